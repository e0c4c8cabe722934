"""The set-up in a browser: what is typed is saved where it belongs, what is wrong is told at its field."""

import re
import tomllib
from pathlib import Path

from playwright.sync_api import BrowserContext, Page, expect

from companion.pages.setup.beginning import begin
from companion.paths import Home
from companion.settings.file import amend
from companion.settings.settings import load_settings, parse_settings

STARTER = (Path(__file__).parents[3] / "companion" / "settings" / "starter.toml").read_text(encoding="utf-8")
HIGHEST = parse_settings(STARTER, "starter.toml").levels[0].name


def saved(page: Page) -> None:
    """Wait until the page says that it is saved."""
    expect(page.locator("#main:not([aria-busy=true])")).to_be_attached()
    expect(page.locator("#told")).to_contain_text("Saved.")


WHOLE_WIDTH = """one => {
    const shown = one.offsetWidth;
    one.style.width = one.style.maxWidth = "max-content";
    return shown >= one.offsetWidth;
}"""
"""Whether a choice is as wide as its longest words."""


def test_every_step_saves_what_was_typed_and_comments_stay(page: Page, home: Home) -> None:
    """From nothing: school, cue, phrases, keys, plans and levels, back and forth, left and found again."""
    page.goto("setup")
    page.get_by_role("button", name="Begin").click()
    page.get_by_role("button", name="I have read this").click()
    page.get_by_label("Your school").fill("Alder Lane School")
    page.get_by_label("Your room").fill("Garden")
    page.get_by_role("button", name="Save and go on").click()
    page.goto("setup/cue")
    page.get_by_role("radio", name="One of my own").check()
    page.get_by_label("My own cue").fill("green beans")
    page.get_by_role("button", name="How good is it?").click()
    expect(page.locator(".verdict")).to_contain_text("Better choose another")
    page.get_by_role("radio", name="granite gondola").check()
    page.get_by_role("button", name="Save and go on").click()
    saved(page)
    page.get_by_label("You say").first.fill("well done")
    page.get_by_role("button", name="Another phrase").click()
    expect(page.locator(".says li")).to_have_count(16)
    added = page.locator(".says li").last
    added.locator("input").fill("circle time")
    added.locator("select").select_option("go to the phase: opening")
    page.get_by_role("button", name="Save", exact=True).click()
    saved(page)
    page.goto("setup/plans")
    moves = page.get_by_role("group", name="Phase 1").get_by_label("Goes on by")
    assert moves.evaluate(WHOLE_WIDTH)
    page.get_by_role("group", name="Phase 2 of garden lesson").get_by_label("Phase").fill("circle")
    page.get_by_role("group", name="Phase 5 of garden lesson").get_by_label("Minutes").fill("22")
    page.get_by_role("group", name="Phase 5").get_by_label("Goes on by").select_option(
        "its minutes, or a key"
    )
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#told")).to_contain_text("go with the new name")
    page.get_by_role("group", name="Phase 7").get_by_role("button", name="Take out").click()
    expect(page.locator("#told")).to_contain_text("“cleanup”")
    page.get_by_label("Its name").fill("kitchen")
    page.get_by_role("button", name="kitchen lesson").click()
    expect(page.locator("summary", has_text="kitchen")).to_be_visible()
    page.get_by_role("link", name="Levels").click()
    page.wait_for_load_state()
    page.get_by_label("goes home with").first.fill("the copper can")
    expect(page.get_by_text("Kept, not saved yet.")).to_be_visible()
    page.reload()
    expect(page.get_by_label("goes home with").first).to_have_value("the copper can")
    page.get_by_role("button", name="Save", exact=True).click()
    saved(page)
    text = home.settings.read_text(encoding="utf-8")
    settings = parse_settings(text, "companion.toml")
    assert (settings.school.name, settings.school.room) == ("Alder Lane School", "Garden")
    assert settings.listening.cue == "granite gondola"
    assert settings.commands["circle time"].phase == "circle"
    assert "cleanup" not in settings.commands
    assert [plan.name for plan in settings.plans] == ["garden lesson", "kitchen"]
    assert (settings.plans[0].phases[4].minutes, str(settings.plans[0].phases[4].advance)) == (22, "clock")
    assert settings.levels[0].object == "the copper can"
    assert all(line in text for line in STARTER.splitlines() if line.startswith("#"))
    page.goto("./")
    expect(page.get_by_role("heading", name="Microphone")).to_be_visible()
    page.get_by_role("button", name="Go on another time").click()
    page.get_by_role("link", name="go on with").click()
    expect(page.get_by_role("heading", name="Microphone")).to_be_visible()


def test_who_teaches_in_another_language_begins_in_it(page: Page, home: Home) -> None:
    """Pages in Spanish, then phrases, plan and levels; the school stays, and what was changed stays too."""
    begin(home)
    page.goto("setup/rules")
    expect(page.get_by_text("in this language")).to_have_count(0)
    page.get_by_role("button", name="Español", exact=True).click()
    expect(page.get_by_role("button", name="Empezar con estas: Español")).to_be_visible()
    page.goto("setup/school")
    page.get_by_label("Su escuela").fill("Alder Lane School")
    page.get_by_role("button", name="Guardar", exact=True).click()
    expect(page.locator("#told")).to_contain_text("Guardado")
    page.goto("setup/rules")
    page.get_by_role("button", name="Empezar con estas: Español").click()
    expect(page.get_by_role("button", name="Empezar con estas: English")).to_be_visible()
    settings = load_settings(home.settings)
    assert (settings.school.name, settings.listening.language) == ("Alder Lane School", "es")
    assert (settings.words.language, settings.plans[0].name) == ("es", "clase de huerto")
    late = page.context.new_page()
    late.goto("setup/rules")
    amend(home.settings, lambda document: document["listening"].update({"cue": "brújula roja"}))
    late.get_by_role("button", name="Empezar con estas: English").click()
    expect(late.locator("#alert")).to_contain_text("ya no son los del comienzo")
    assert load_settings(home.settings).listening.cue == "brújula roja"


def test_quick_presses_by_keyboard_are_all_done(page: Page, home: Home) -> None:
    """Two in a row, a row taken out by a double press, and a press that comes while the page goes on."""
    begin(home)
    page.goto("setup/phrases")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    expect(page.get_by_label("You say").first).to_be_focused()
    page.get_by_role("button", name="Another phrase").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    expect(page.locator(".says li")).to_have_count(17)
    saved(page)
    page.get_by_role("button", name="Take out line up").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    expect(page.locator(".says li")).to_have_count(16)
    saved(page)
    assert page.evaluate("main().contains(document.activeElement)")
    page.get_by_role("button", name="Save and go on").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Rehearsal")).to_be_visible()
    expect(page.locator("#alert")).to_be_hidden()
    said = load_settings(home.settings).commands
    assert "line up" not in said
    assert "note health office" in said


def test_the_week_is_laid_out_filled_and_pasted(page: Page, home: Home) -> None:
    """Cells, a whole grade's plan, other times on one weekday, holidays and a special day."""
    begin(home)
    page.goto("setup/plans")
    page.get_by_role("button", name="kitchen lesson").click()
    saved(page)
    page.goto("setup/week")
    page.get_by_label("Periods a day").fill("3")
    page.get_by_role("button", name="Lay out the week").click()
    page.get_by_label("Monday, period 1", exact=True).fill("4-Hazel")
    page.get_by_label("Friday, period 3", exact=True).fill("2-Birch")
    page.get_by_role("button", name="Save", exact=True).click()
    saved(page)
    page.locator("#paste > summary").click()
    page.get_by_label("A line for each period").fill("\t5-Oak\n4-Hazel\n")
    page.get_by_role("button", name="Put it in").click()
    expect(page.get_by_label("Tuesday, period 1", exact=True)).to_have_value("5-Oak")
    page.get_by_label("Grade 4").select_option("kitchen lesson")
    page.locator("#times > summary").click()
    page.get_by_role("button", name="Other times").click()
    page.get_by_label("early release, period 3, from").fill("")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator(".wrong").first).to_contain_text("A time is missing")
    page.get_by_label("early release, period 3, to").fill("")
    page.get_by_label("Wednesday").last.select_option("early release")
    page.locator("#year > summary").click()
    page.get_by_label("No school on").fill("2026-12-21 to 2027-01-01")
    page.get_by_label("A lesson opens").select_option("when I say so")
    page.get_by_role("button", name="Save", exact=True).click()
    saved(page)
    page.get_by_role("button", name="A special day").click()
    saved(page)
    timetable = load_settings(home.settings).timetable
    assert timetable is not None
    held = {(e.day, e.period): (e.class_group, e.plan) for e in timetable.timetable().entries}
    assert held == {
        ("mon", "1"): ("4-Hazel", "kitchen lesson"),
        ("mon", "2"): ("4-Hazel", "kitchen lesson"),
        ("tue", "1"): ("5-Oak", None),
        ("fri", "3"): ("2-Birch", None),
    }
    assert list(timetable.hours["early release"]) == ["1", "2"]
    assert (timetable.weekly_hours, timetable.opens) == ({"wed": "early release"}, "hand")
    assert len(timetable.exceptions) == 1
    page.get_by_role("button", name="Take the whole week out").click()
    expect(page.get_by_text("Taken out: the whole week.")).to_be_visible()
    page.get_by_role("button", name="Put it back").click()
    page.locator("table.week").get_by_label("Monday, period 2", exact=True).focus()
    page.keyboard.press("ArrowDown")
    expect(page.get_by_label("Monday, period 3", exact=True)).to_be_focused()


def test_what_is_wrong_is_told_at_its_field_and_nothing_is_lost(
    page: Page, home: Home, window: BrowserContext
) -> None:
    """The same check as on the command line; what was typed stays, also where another window saved first."""
    home.settings.write_text(STARTER, encoding="utf-8")
    page.goto("setup/levels")
    page.get_by_label("Level", exact=True).nth(1).fill(HIGHEST)
    page.get_by_label("from a margin of").first.fill("many")
    page.get_by_role("button", name="Save").last.click()
    field = page.get_by_label("from a margin of").first
    expect(field).to_be_focused()
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(field).to_have_accessible_description("'many' is no number; write one, as in 5.")
    expect(field).to_have_value("many")
    page.reload()
    expect(field).to_have_value("many")
    field.fill("9")
    page.get_by_role("button", name="Save").last.click()
    expect(page.get_by_role("alert").first).to_contain_text(
        f"two levels have the name '{HIGHEST}'", ignore_case=True
    )
    assert home.settings.read_text(encoding="utf-8") == STARTER
    other = window.new_page()
    other.goto("setup/school")
    other.get_by_label("Your room").fill("Greenhouse")
    other.get_by_role("button", name="Save").last.click()
    saved(other)
    page.get_by_label("Level", exact=True).nth(1).fill("Half bloom")
    page.get_by_role("button", name="Save").last.click()
    expect(page.locator("#alert")).to_contain_text("was changed meanwhile")
    page.reload()
    goes = page.get_by_label("goes home with").first
    goes.fill("the can of K. T.")
    page.get_by_role("button", name="Save").last.click()
    expect(goes).to_be_focused()
    expect(goes).to_have_accessible_description(re.compile(r"K\. T\. may stand for a child"))
    assert "K. T." not in home.settings.read_text(encoding="utf-8")
    page.get_by_role("button", name="Save").last.click()
    saved(page)
    settings = load_settings(home.settings)
    assert settings.levels[0].object == "the can of K. T."
    assert [(level.name, level.least_margin) for level in settings.levels[:2]] == [
        (HIGHEST, 9),
        ("Half bloom", 2),
    ]
    assert settings.school.room == "Greenhouse"


def test_a_file_that_can_not_be_used_is_mended_on_its_page(page: Page, home: Home) -> None:
    """The line is shown, with what to do; a value can be mended at its field as well."""
    broken = STARTER.replace("minutes = 7", 'minutes = "soon"', 1).replace('room = "Garden', "room = Garden")
    home.settings.write_text(broken, encoding="utf-8")
    page.goto("setup")
    line = page.locator("#lines input[aria-invalid]")
    expect(line).to_have_value('room = Garden and kitchen room"')
    line.fill('room = "Garden and kitchen room"')
    page.get_by_role("button", name="Save").first.click()
    expect(line).to_have_value('minutes = "soon"')
    page.goto("setup")
    page.get_by_role("link", name="plans[1].phases[3].minutes").click()
    page.get_by_label("Minutes").nth(2).fill("7")
    page.get_by_role("button", name="Save", exact=True).last.click()
    saved(page)
    assert tomllib.loads(home.settings.read_text(encoding="utf-8")) == tomllib.loads(STARTER)
