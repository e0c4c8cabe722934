"""History, its sheet to print, its pictures, levels tried and the own practice in a real browser."""

import shutil
from datetime import datetime
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from companion.bench.school_years import ZONE, fill
from companion.clock import ComputerClock
from companion.lesson import event as ev
from companion.log.store import open_log
from companion.log.weeks import Within, taught_again
from companion.paths import Home
from tests.pages.routes import paths_of

LEVELS = """
[[phrases]]
say = "praise"
does = "praise"

[[plans]]
name = "garden and kitchen"
phases = [{ name = "arrival", minutes = 3 }]

[[levels]]
name = "Full basket"
least_margin = 8

[[levels]]
name = "First sprout"
least_margin = 1

[[school.grading_periods]]
name = "first period"
begins = 2020-01-01
ends = 2020-03-31
"""


@pytest.fixture(scope="module")
def term(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a log with nine weeks of lessons of forty class groups."""
    path = tmp_path_factory.mktemp("term") / "sessions.db"
    fill(path, 320, seed=3, ends=datetime.now(ZONE))
    return path


@pytest.fixture(autouse=True)
def years(home: Home, term: Path) -> None:
    """Have those lessons behind the pages, and a table of levels."""
    shutil.copy(term, home.log)
    home.settings.write_text(LEVELS, encoding="utf-8")


def test_history_is_drawn_and_told_in_numbers(page: Page) -> None:
    """Each chart has its table, with the same figures, and phases stand in the order of the lesson."""
    page.goto("history")
    assert page.locator("svg.chart").count() == 3
    expect(page.locator(".count")).to_contain_text("praises for each reminder (likely")
    page.get_by_text("The same as a table").first.click()
    rows = page.locator("details[open] tbody tr")
    assert rows.count() == page.locator(".share .range").count() > 3
    page.get_by_text("The same as a table").nth(2).click()
    phases = page.get_by_role("region", name="Phases as a table").locator("tbody th").all_inner_texts()
    assert phases == ["arrival", "opening", "set up", "work time", "cleanup", "line up"]
    page.get_by_role("combobox", name="Class group").select_option("2-Rowan")
    page.get_by_role("button", name="Show").click()
    expect(page.locator("h1")).to_contain_text("2-Rowan")
    beside = page.get_by_role("region", name="Side by side").locator("tbody tr")
    expect(beside.filter(has_text="this one")).to_have_count(1)
    assert beside.count() == 8, "the class groups of its grade, and no other's"


def test_every_chart_on_every_page_is_a_table_too(page: Page, home: Home) -> None:
    """In the same figure, a row a bar's label; a drawing of lessons, or of one, has its words beside it."""
    with open_log(home.log) as log:
        session = log.summaries(most=1)[0].session
    charts = lessons = 0
    for path in (*paths_of([session]), "history?weeks=", "history?class_group=2-Rowan", "practice?weeks="):
        page.goto(path)
        page.evaluate("() => document.querySelectorAll('details').forEach(one => { one.open = true })")
        for figure in page.locator("figure:has(svg.chart)").all():
            rows = figure.locator("tbody th").all_inner_texts()
            labels = figure.locator("text.axis.x, text.axis.y").all_text_contents()
            assert {label for label in labels if not label.isdigit()} <= set(rows), path
            assert rows
            assert figure.locator("table").bounding_box(), path
            charts += 1
        assert page.locator("svg.chart").count() == page.locator("figure svg.chart").count(), path
        for drawing in page.locator("svg.lessons, svg.drawing").all():
            assert drawing.locator("xpath=following-sibling::ol").first.locator("li").count(), path
            lessons += 1
    assert charts >= 9
    assert lessons


def test_a_finding_is_answered_by_teaching_again(page: Page, home: Home) -> None:
    """The press is recorded in the class group's newest lesson, and whether it helps is followed.

    What was looked at is looked at still: all class groups, and as far back.
    """
    page.goto("history?weeks=")
    looked_at = page.locator("h1").inner_text()
    finding = page.locator(".needs li").first
    expect(finding).to_contain_text("lessons had more reminders than praise for it")
    assert finding.locator("svg.lessons").count() == 1
    group = finding.get_by_role("link").inner_text()
    finding.get_by_role("button", name="Taught again").click()
    expect(page.get_by_role("heading", name="Taught again: did it help?")).to_be_visible()
    expect(page.locator("main")).to_contain_text("0 of 3 lessons since then: too early to say.")
    expect(page.get_by_label("How far back")).to_have_value("")
    assert page.locator("h1").inner_text() == looked_at
    with open_log(home.log) as log:
        (taught,) = taught_again(log, Within(), most=1)
        assert (taught.class_group, taught.session) == (group, log.summaries(group, most=1)[0].session)


def test_a_span_is_chosen_by_days_or_grading_period(page: Page) -> None:
    """Days that are in the wrong order are told; a period without lessons shows none."""
    page.goto("history?weeks=first+period")
    expect(page.locator("main")).to_contain_text("0 lessons are looked at")
    expect(page.locator("main")).to_contain_text("Of fewer than 6 lessons of a class group")
    today = ComputerClock().wall().date()
    page.goto(f"history?weeks=days&from=2020-01-01&to={today}")
    expect(page.locator("main")).to_contain_text("320 lessons are looked at")
    page.goto("history?weeks=days&from=2026-02-01&to=2026-01-01")
    expect(page.locator("main")).to_contain_text("The first day lies after the last one.")
    page.goto("history?weeks=days&from=soon")
    expect(page.locator("main")).to_contain_text("“soon” is no day.")


@pytest.mark.parametrize("name", ["praise", "recognitions", "phases"])
def test_each_chart_is_kept_as_a_picture(page: Page, tmp_path: Path, name: str) -> None:
    """As SVG that stands alone, and as PNG that is wide enough for a slide."""
    page.goto("history?class_group=2-Rowan")
    for kind in ("svg", "png"):
        with page.expect_download() as download:
            page.locator(f'a[href*="/history/chart/{name}.{kind}"]').click()
        file = tmp_path / f"chart.{kind}"
        download.value.save_as(file)
        assert download.value.suggested_filename == f"{name} 2-Rowan.{kind}"
    svg = (tmp_path / "chart.svg").read_text(encoding="utf-8")
    assert "2-Rowan</title>" in svg or "2-Rowan</text>" in svg
    assert "<script" not in svg
    with Image.open(tmp_path / "chart.png") as png:
        assert png.width == 1_600
        assert len(png.convert("RGB").getcolors(1 << 24) or ()) > 3, "it is not one blank colour"


def test_the_sheet_is_one_page_without_anything_about_single_children(page: Page, tmp_path: Path) -> None:
    """For a talk with the class's own teacher."""
    page.goto("history/sheet?class_group=2-Rowan")
    expect(page.locator("h1")).to_contain_text("2-Rowan")
    page.pdf(path=tmp_path / "sheet.pdf", format="Letter")
    assert len(PdfReader(tmp_path / "sheet.pdf").pages) == 1
    expect(page.locator("main")).to_contain_text("nothing here is about a single child")


def test_other_levels_are_tried_on_past_lessons(page: Page, home: Home) -> None:
    """Both tables stand side by side, and no setting is changed."""
    page.goto("history/levels?weeks=")
    before = page.locator("tbody tr", has_text="Full basket").locator("td").all_inner_texts()
    assert before[0] == before[1]
    page.get_by_label("from margin").first.fill("20")
    page.get_by_role("button", name="Show").click()
    after = page.locator("tbody tr", has_text="Full basket").locator("td").all_inner_texts()
    assert after[0] == before[0]
    assert int(after[1]) < int(after[0])
    assert home.settings.read_text(encoding="utf-8") == LEVELS
    page.goto("history/levels?name-0=A&margin-0=much")
    expect(page.locator("main")).to_contain_text("The margin of “A” is no whole number.")


def test_the_own_practice_is_private(page: Page) -> None:
    """By class group and hour with ranges, and how marks came about."""
    page.goto("practice?weeks=")
    assert page.locator("body").get_attribute("data-audience") == "private"
    expect(page.locator("main")).to_contain_text("by voice:")
    expect(page.get_by_role("row", name="08:00")).to_be_visible()
    expect(page.get_by_role("row", name="praise", exact=False).last).to_be_visible()


def test_a_phrase_that_is_often_put_right_gets_another_wording(page: Page, home: Home) -> None:
    """It is asked for by a press; the hours are told, and how long was worked after lessons."""
    with open_log(home.log) as log:
        for summary in log.summaries(most=8):
            session = log.session(summary.session)
            heard = [mark for mark in session.standing if mark.phrase == "praise"]
            dropped = [ev.MarkDropped(mark.id) for mark in heard]
            log.append_all(
                session.id,
                [ev.SessionReopened("heard wrongly"), *dropped],
                at=summary.opened_at,
                offset_ms=session.last_ms,
            )
    page.goto(f"practice?weeks=days&from={summary.opened_at:%Y-%m-%d}")
    page.get_by_role("link", name="Another wording that may be heard better").click()
    expect(page.locator(".notice")).to_contain_text("“praise ")
    page.get_by_text("What was put right, by the hour").click()
    expect(page.locator("details[open] tbody tr").first).to_contain_text("praise")
    expect(page.locator("main")).to_contain_text("minutes a lesson in the mean")
