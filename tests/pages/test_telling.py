"""Telling the class: at once, or when the teacher says so; and a look together in mid-lesson."""

from dataclasses import replace

from playwright.sync_api import BrowserContext, Page, expect

from companion.lesson import event as ev
from companion.lesson.mark import Kind, NoteKind
from companion.log.store import open_log
from companion.paths import Home
from tests.pages.lessons import BODIES, CLOSE, NOTE, OPENED, opened, pressed, record, write_lesson


def test_held_marks_are_told_when_the_teacher_says_so(window: BrowserContext, page: Page, home: Home) -> None:
    """The class sees none of them before; then each with what it was for, and nothing is told twice."""
    with open_log(home.log) as log:
        session = log.open_session(replace(opened(), holds_marks=True), OPENED)
        held = replace(pressed(Kind.PRAISE, 2, routine="walk in on the path"), held=True)
        session = record(log, session, BODIES[0], held)
    projector = window.new_page()
    projector.goto(f"live/{session.id}/projector")
    expect(projector.locator("#count")).to_contain_text("0 praises")
    page.goto(f"live/{session.id}")
    expect(page.locator("#count")).to_contain_text("1 praise")
    page.get_by_role("button", name="Tell the class (1)").click()
    expect(projector.locator("#telling")).to_contain_text("arrival: walk in on the path")
    expect(projector.locator("#count")).to_contain_text("1 praise")
    expect(page.get_by_role("button", name="Tell the class")).to_have_count(0)
    page.get_by_role("button", name="Next phase").click()
    expect(projector.locator("#telling")).to_have_count(0)


def test_a_mark_that_was_added_afterwards_is_told_as_such_with_its_phase(page: Page, home: Home) -> None:
    """The reflection keeps it until the teacher tells it."""
    added = ev.MarkAdded(Kind.PRAISE, "stop signal", routine="freeze and look")
    session = write_lesson(home.log, *BODIES, CLOSE, added)
    page.goto(f"reflection/{session.id}")
    expect(page.locator(".steps")).not_to_contain_text("freeze and look")
    page.get_by_role("button", name="Tell", exact=True).click()
    expect(page.locator("#telling")).to_contain_text("stop signal: freeze and look added afterwards")
    expect(page.locator(".steps")).to_contain_text("freeze and look")
    expect(page.get_by_role("button", name="Tell", exact=True)).to_have_count(0)


def test_one_key_shows_the_reflection_so_far_and_comes_back(
    window: BrowserContext, page: Page, home: Home
) -> None:
    """In the class's window where one is open, else in the teacher's own."""
    session = write_lesson(home.log, *BODIES)
    page.goto(f"live/{session.id}")
    page.keyboard.press("s")
    expect(page.get_by_text("How did our lesson go?")).to_be_visible()
    page.wait_for_load_state()
    page.keyboard.press("s")
    expect(page.get_by_role("button", name="Praise", exact=True)).to_be_visible()
    projector = window.new_page()
    projector.goto(f"live/{session.id}/projector")
    projector.wait_for_load_state()
    page.wait_for_load_state()
    page.get_by_role("button", name="Look together so far").click()
    expect(projector.get_by_text("How did our lesson go?")).to_be_visible()
    projector.wait_for_load_state()
    page.keyboard.press("s")
    expect(projector.locator("#count")).to_be_visible()
    expect(page.get_by_role("button", name="Praise", exact=True)).to_be_visible()


def test_undo_says_what_it_took_back_and_a_private_note_that_it_was_begun(page: Page, home: Home) -> None:
    """A note that was begun is what undo takes back, and no praise; the navigation counts it."""
    session = write_lesson(home.log, *BODIES, NOTE)
    page.goto(f"live/{session.id}")
    page.get_by_role("button", name="Private note").click()
    expect(page.locator("#done")).to_have_text("Done last: a private note begun.")
    expect(page.locator("#begun")).to_contain_text("1")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("#done")).to_have_text("Taken back: a private note begun.")
    expect(page.locator("#begun")).to_have_count(0)
    expect(page.locator("#count")).to_contain_text("10 praises")
    page.get_by_text("Go to a phase").click()
    page.get_by_role("button", name="opening").click()
    expect(page.locator("#phase .name")).to_have_text("opening")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("#phase .name")).to_have_text("line-up")
    with open_log(home.log) as log:
        assert [note.kind for note in log.session(session.id).notes] == [NoteKind.HEALTH_OFFICE]
