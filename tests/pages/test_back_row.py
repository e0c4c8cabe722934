"""What a class reads from the back row: big enough, no label touching anything, a mark that is seen."""

from collections.abc import Iterator
from itertools import combinations

import pytest
from playwright.sync_api import Browser, Page, expect

from companion.lesson import event as ev
from companion.lesson.mark import Kind, Source
from companion.log.store import open_log
from companion.pages.serve import PageServer
from companion.paths import Home
from tests.pages.lessons import BODIES, CLOSE, MINUTE, at, pressed, write_lesson

PICTURE_MM = 2_000
"""Width of the projected picture."""
BIG_MM, READ_MM = 37, 23
"""Least cap heights: of class, phase, time, count and level; and of everything else that a class reads."""
BIG = "h1, .phase .name, .phase .left, .count, .reached, .level, .steps h2, .outcome .sum"
CAPS = """big => {
  const found = [];
  const pen = document.createElement("canvas").getContext("2d");
  const walk = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
  for (let text = walk.nextNode(); text; text = walk.nextNode()) {
    const part = text.parentElement;
    const unseen = part.closest(".unseen, title, option, .beds, .corner") || !part.checkVisibility();
    if (!text.textContent.trim() || unseen) continue;
    const style = getComputedStyle(part);
    pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
    const caps = pen.measureText("H").actualBoundingBoxAscent;
    found.push([text.textContent.trim(), caps, Boolean(part.closest(big))]);
  }
  return found;
}"""
TOUCHING = """() => {
  const box = (part) => part.getBoundingClientRect();
  const labels = [...document.querySelectorAll("text.name")];
  const lines = [...document.querySelectorAll(".peg, .soil, .stalk, .moment, .silence")];
  const touch = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
  const found = [];
  for (const label of labels) {
    const words = box(label);
    // The rounding of a peg's own foot is no touch.
    const ink = { left: words.left + 1, right: words.right, top: words.top + 1, bottom: words.bottom };
    for (const other of labels) if (other !== label && touch(ink, box(other))) found.push(label.textContent);
    for (const line of lines) if (touch(ink, box(line))) found.push(`${label.textContent} and a line`);
  }
  return found;
}"""


@pytest.fixture(params=[(1280, 720), (1920, 1080)], ids=["1280", "1920"])
def projected(browser: Browser, server: PageServer, request: pytest.FixtureRequest) -> Iterator[Page]:
    """Return a page in a window of a projector's size."""
    width, height = request.param
    context = browser.new_context(base_url=server.base, viewport={"width": width, "height": height})
    page = context.new_page()
    page.goto(server.address())
    yield page
    context.close()


def test_everything_a_class_reads_is_big_enough(projected: Page, home: Home) -> None:
    """On a picture 2 m wide: 37 mm for class, phase, time, count and level, 23 for the rest; all in sight."""
    running = write_lesson(home.log, *BODIES[:8])
    over = write_lesson(home.log, *BODIES, CLOSE, ev.SelfRated("went well", (14, 6, 2)))
    for path in (
        f"live/{running.id}/projector",
        f"reflection/{over.id}",
        f"reflection/{over.id}/projector",
        "between",
    ):
        projected.goto(path)
        projected.evaluate("document.fonts.ready")
        width = projected.evaluate("innerWidth")
        for words, caps, big in projected.evaluate(CAPS, BIG):
            assert caps / width * PICTURE_MM >= (BIG_MM if big else READ_MM), (path, words)
        assert projected.evaluate("document.documentElement.scrollHeight <= innerHeight"), path


def test_no_label_touches_a_line_or_another(projected: Page, home: Home) -> None:
    """Also with eight marks in one minute, and a phase of a minute between two long ones."""
    crowd = [pressed(Kind.REMINDER if i % 3 else Kind.PRAISE, 9 + i / 8) for i in range(8)]
    for session in (write_lesson(home.log, *BODIES[:5], *crowd), write_lesson(home.log, *BODIES)):
        projected.goto(f"live/{session.id}/projector")
        projected.evaluate("document.fonts.ready")
        assert projected.evaluate(TOUCHING) == []


def test_marks_of_one_minute_stand_beside_each_other(projected: Page, home: Home) -> None:
    """Of eight leaves, and of those that are left to the next level, none hides another, nor on a phone."""
    crowd = [pressed(Kind.PRAISE, 9 + i / 8) for i in range(8)]
    sessions = write_lesson(home.log, *BODIES[:5], *crowd), write_lesson(home.log, *BODIES[:2])
    projected.emulate_media(reduced_motion="reduce")
    for path in (f"live/{session.id}{page}" for session in sessions for page in ("", "/projector")):
        for width in (None, 390):
            if width:
                projected.set_viewport_size({"width": width, "height": 844})
            projected.goto(path)
            boxes = projected.locator(".stem .leaf, .drawing .outline path").evaluate_all(
                "leaves => leaves.map((leaf) => leaf.getBoundingClientRect().toJSON())"
            )
            assert all(one["height"] > 5 for one in boxes)
            assert [pair for pair in combinations(boxes, 2) if touch(*pair)] == [], (path, width)


def touch(one: dict[str, float], other: dict[str, float]) -> bool:
    """Whether two boxes share more than their edges."""
    beside = one["left"] >= other["right"] - 2 or other["left"] >= one["right"] - 2
    above = one["top"] >= other["bottom"] - 2 or other["top"] >= one["bottom"] - 2
    return not (beside or above)


def test_the_bed_is_seen_in_a_small_window_too(page: Page, home: Home) -> None:
    """Half a laptop's screen, with the names of all phases beneath it."""
    session = write_lesson(home.log, *BODIES[:4])
    page.set_viewport_size({"width": 780, "height": 490})
    for path in (f"live/{session.id}", f"live/{session.id}/projector"):
        page.goto(path)
        bed = page.locator(".drawing").bounding_box()
        assert bed
        assert bed["height"] > 40, path


def test_what_is_left_to_the_next_level_stands_as_empty_leaves(page: Page, home: Home) -> None:
    """As many as praises are needed; with each praise there is one less."""
    session = write_lesson(home.log, *BODIES[:4])
    page.goto(f"live/{session.id}")
    expect(page.locator(".drawing .outline")).to_have_count(2)
    page.get_by_role("button", name="Praise", exact=True).click()
    expect(page.locator(".drawing .outline")).to_have_count(1)


def test_time_over_looks_unlike_time_left(page: Page, home: Home) -> None:
    """In ink and in shape."""
    look = "part => { const style = getComputedStyle(part); return [style.backgroundColor, style.clipPath]; }"
    left = write_lesson(home.log, BODIES[0], ev.PhaseBegan("work time", 2_000_000_000, Source.KEY))
    page.goto(f"live/{left.id}/projector")
    before = page.locator("#phase .left").evaluate(look)
    over = write_lesson(home.log, BODIES[0])
    page.goto(f"live/{over.id}/projector")
    expect(page.locator("#phase .left.over")).to_contain_text("over")
    after = page.locator("#phase .left").evaluate(look)
    assert before[0] != after[0]
    assert before[1] != after[1]


def test_the_windows_edge_lights_with_a_mark_where_it_is_wished(page: Page, home: Home) -> None:
    """For a teacher who can't hear the tone, in the same moment as the mark; not unless it is set."""
    home.settings.write_text("[pages]\nlight_marks = true\n", encoding="utf-8")
    session = write_lesson(home.log, *BODIES[:4])
    page.goto(f"live/{session.id}")
    assert page.locator("body.edge").count() == 0
    page.clock.install()
    with open_log(home.log) as log:
        mark = ev.MarkMade(Kind.REMINDER, at(8), Source.VOICE)
        log.append(session.id, mark, at=session.opened_at, offset_ms=8 * MINUTE)
    expect(page.locator("body.edge.reminder")).to_be_attached()


def test_status_is_on_the_teachers_window_only(page: Page, home: Home) -> None:
    """There as a live region; the class sees neither microphone nor trouble."""
    session = write_lesson(home.log, *BODIES[:4])
    page.goto(f"live/{session.id}")
    expect(page.get_by_role("status").filter(has_text="Not listening here")).to_be_visible()
    page.goto(f"live/{session.id}/projector")
    expect(page.locator("#status")).to_have_count(0)


def test_every_script_of_the_fonts_is_drawn_from_the_package(page: Page, home: Home) -> None:
    """Names in seven scripts load the fonts that come with the program."""
    names = "Żółw Ялина Ελιά شجرة עץ पेड़ ต้นไม้"
    session = write_lesson(home.log, *BODIES[:4], class_group=names)
    page.goto(f"live/{session.id}/projector")
    page.evaluate("document.fonts.ready")
    loaded = page.evaluate("[...document.fonts].filter((font) => font.status === 'loaded').length")
    assert loaded >= 8
