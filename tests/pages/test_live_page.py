"""The live page in a real browser."""

import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, Route, expect

from companion.clock import ComputerClock
from companion.lesson import event as ev
from companion.lesson.event import SessionOpened
from companion.lesson.mark import NoteKind, Source
from companion.lesson.opening import Opening
from companion.lesson.plan import Phase, Plan
from companion.live.live import Live
from companion.live.pages_port import LivePort
from companion.log.care import waiting_for
from companion.log.store import open_log
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.paths import Home
from tests.lesson.builders import AT
from tests.pages.lessons import BODIES, CARRY_OVER, CLOSE, NOTE, at, write_lesson
from tests.school_day import HandClock, settings
from tests.waiting import until

CLOSELY = timedelta(milliseconds=100)
"""The page tells its moments in milliseconds, and the browser the press a little later."""


def praise_in(home: Home, session_id: str) -> int:
    """Return the praises that the log holds."""
    with open_log(home.log) as log:
        return log.session(session_id).praise


def press(page: Page, name: str) -> None:
    """Press a button of the page."""
    page.get_by_role("button", name=name, exact=True).click()


def test_a_mark_shows_in_both_windows_without_reloading(
    window: BrowserContext, page: Page, home: Home
) -> None:
    """A press in the teacher's window appears on the projector, and is announced to a screen reader."""
    session = write_lesson(home.log, *BODIES)
    page.goto(f"live/{session.id}")
    projector = window.new_page()
    projector.goto(f"live/{session.id}/projector")
    projector.evaluate("window.before = true")
    press(page, "Praise")
    expect(projector.locator("#count")).to_contain_text("11 praises")
    expect(projector.locator(".stem.praise")).to_have_count(11)
    expect(page.locator("#newest[aria-live=polite]")).to_contain_text("Last mark: praise, line-up")
    assert projector.evaluate("window.before") is True
    assert praise_in(home, session.id) == 11


def test_windows_beyond_the_seats_follow_at_once(window: BrowserContext, home: Home) -> None:
    """Four hold a stream; the others hear of news from these, and need not wait for their own look."""
    never = "const late = setTimeout; window.setTimeout = (act, ms) => (ms === 2000 ? 0 : late(act, ms));"
    window.add_init_script(never)
    session = write_lesson(home.log, *BODIES)
    windows = [window.new_page() for _ in range(6)]
    for one in windows:
        one.goto(f"live/{session.id}")
        expect(one.locator("#count")).to_contain_text("10 praises")
    press(windows[0], "Praise")
    for one in windows:
        expect(one.locator("#count")).to_contain_text("11 praises")


def test_a_lesson_that_was_opened_as_none_is_given_its_class(page: Page, home: Home) -> None:
    """From the live page and, when it is over, from the review; the log's own classes are offered."""
    home.settings.write_text('[[plans]]\nname = "kitchen"\nphases = [{ name = "aprons", minutes = 5 }]\n')
    write_lesson(home.log, class_group="2-Birch")
    session = write_lesson(home.log, *BODIES[:4], class_group="unplanned")
    page.goto(f"live/{session.id}")
    page.get_by_role("link", name="Another class?").click()
    assert page.locator("#groups option").evaluate_all("all => all.map(one => one.value)") == ["2-Birch"]
    page.get_by_label("Class group").fill("4-Hazel")
    page.get_by_label("Plan").select_option("kitchen")
    press(page, "This class")
    expect(page.locator("h1")).to_have_text("4-Hazel")
    expect(page.locator("#phase .name")).to_have_text("aprons")
    press(page, "End the lesson")
    page.get_by_role("link", name="On to the review").click()
    page.get_by_role("link", name="another class?").click()
    page.get_by_label("Class group").fill("5-Oak")
    press(page, "This class")
    expect(page.locator("h1")).to_contain_text("5-Oak")
    with open_log(home.log) as log:
        assert log.session(session.id).class_group == "5-Oak"


def test_every_button_of_a_lesson_does_what_it_says(page: Page, home: Home) -> None:
    """Praise, reminder, undo, next phase, pause, resume and the end of the lesson reach the log."""
    session = write_lesson(home.log, *BODIES[:12])
    page.goto(f"live/{session.id}")
    count = page.locator("#count")
    press(page, "Reminder")
    expect(count).to_contain_text("2 reminders")
    press(page, "Undo")
    expect(count).to_contain_text("1 reminder")
    press(page, "Next phase")
    expect(page.locator("#phase .name")).to_have_text("stop signal")
    press(page, "Pause listening")
    expect(page.locator("#status")).to_contain_text("Paused")
    press(page, "Resume listening")
    expect(page.get_by_role("button", name="Pause listening")).to_be_visible()
    press(page, "Private note")
    press(page, "End the lesson")
    expect(page.get_by_role("link", name="On to the review")).to_be_visible()
    with open_log(home.log) as log:
        after = log.session(session.id)
    assert after.closed
    assert [note.kind for note in after.notes] == [NoteKind.OTHER]


def test_two_quick_presses_are_two_marks(page: Page, home: Home) -> None:
    """Each press is a wish of its own, also before the first one is answered."""
    session = write_lesson(home.log, *BODIES)
    page.goto(f"live/{session.id}")
    page.get_by_role("button", name="Praise", exact=True).dblclick()
    expect(page.locator("#count")).to_contain_text("12 praises")
    assert praise_in(home, session.id) == 12


def test_a_mark_by_another_program_shows_by_itself(page: Page, home: Home) -> None:
    """Voice and keys of the running companion write to the same log."""
    session = write_lesson(home.log, *BODIES)
    page.goto(f"live/{session.id}")
    expect(page.locator("#count")).to_contain_text("2 reminders")
    with open_log(home.log) as log:
        undone = ev.UndoAsked(session.last_ms, Source.VOICE)
        log.append(session.id, undone, at=session.opened_at, offset_ms=session.last_ms)
    expect(page.locator("#count")).to_contain_text("9 praises")


def test_the_carry_over_comes_first_and_is_said_once(page: Page, home: Home) -> None:
    """What was left unsaid last time stands on top, and is no mark."""
    session = write_lesson(home.log, *BODIES[:1])
    page.goto(f"live/{session.id}")
    expect(page.locator("#first")).to_contain_text(CARRY_OVER)
    expect(page.locator("#count")).to_contain_text("0 praises and 0 reminders")
    press(page, "Said")
    expect(page.locator("#first")).to_contain_text("(said)")
    with open_log(home.log) as log:
        assert log.session(session.id).carry_over_said


def test_what_is_said_first_may_be_taught_again_with_it(page: Page, home: Home) -> None:
    """The routine that the words tell of is chosen already; both are told of this lesson."""
    plan = Plan("garden", (Phase("arrival", 3, ("bag on the hook",)), Phase("cleanup", 6, ("tools back",))))
    with open_log(home.log) as log:
        before = log.open_session(SessionOpened("4-Hazel", plan), AT)
        left = ev.CarryOverWritten("Before cleanup we practise once: tools back.")
        log.append_all(before.id, (CLOSE, left), at=AT, offset_ms=at(45))
        opened = SessionOpened("4-Hazel", plan, waiting=waiting_for(log, "4-Hazel"))
        session = log.open_session(opened, AT + timedelta(days=7))
    page.goto(f"live/{session.id}")
    page.get_by_text("Taught again, too").click()
    expect(page.get_by_label("Taught again in this lesson")).to_have_value("3")
    press(page, "Said and taught again")
    expect(page.locator("#first")).to_contain_text("(said)")
    with open_log(home.log) as log:
        now = log.session(session.id)
        assert not now.to_say
        assert [(one.phase, one.routine) for one in now.taught_again] == [("cleanup", "tools back")]


def test_a_guest_says_so_and_uses_up_nothing_that_was_left_to_say(page: Page, home: Home) -> None:
    """In the lesson itself; what was left to say waits for the teacher, and a press takes it back."""
    session = write_lesson(home.log, *BODIES[:1])
    page.goto(f"live/{session.id}")
    press(page, "A guest teaches")
    expect(page.get_by_role("button", name="I teach it myself")).to_be_visible()
    expect(page.locator("#first")).to_contain_text(CARRY_OVER)
    page.reload()
    press(page, "End the lesson")
    expect(page.locator("main")).to_contain_text("The lesson is over")
    with open_log(home.log) as log:
        assert log.session(session.id).by_guest
        assert not log.session(session.id).carry_over_said
    press(page, "Undo")
    press(page, "I teach it myself")
    expect(page.get_by_role("button", name="A guest teaches")).to_be_visible()
    with open_log(home.log) as log:
        assert not log.session(session.id).by_guest


@pytest.mark.parametrize("path", ["live/{}", "live/{}/projector", "reflection/{}"])
def test_nothing_about_a_child_is_on_a_page_for_the_class(page: Page, home: Home, path: str) -> None:
    """Initials, line, kind and contact of an individual note are not even in the page's source."""
    session = write_lesson(home.log, *BODIES, NOTE)
    page.goto(path.format(session.id))
    source = page.content()
    for word in ("K. T.", "health office", "cut finger", "before 15:00", "n16"):
        assert word not in source


def test_an_answer_that_is_lost_is_asked_for_again_and_recorded_once(
    window: BrowserContext, home: Home
) -> None:
    """The companion has the mark, the page does not know it: sent again, it is the same mark."""
    session = write_lesson(home.log, *BODIES)
    page = window.new_page()
    page.goto(f"live/{session.id}")
    lost: list[str] = []

    def lose_the_first(route: Route) -> None:
        if route.request.method == "POST" and not lost:
            route.fetch(max_redirects=0)
            lost.append(route.request.url)
            route.abort()
        else:
            route.continue_()

    page.route("**/live/*", lose_the_first)
    press(page, "Praise")
    expect(page.locator("#count")).to_contain_text("11 praises")
    expect(page.locator("#connection")).to_be_hidden()
    assert lost
    assert praise_in(home, session.id) == 11


def test_a_press_before_all_scripts_have_come_is_recorded(page: Page, home: Home) -> None:
    """A teacher does not wait for them: the button does what it does without any."""
    session = write_lesson(home.log, *BODIES)
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.route("**/drafts.js", hold)
    page.goto(f"live/{session.id}", wait_until="commit")
    assert until(lambda: page.evaluate("typeof wish === 'function'"))
    press(page, "Praise")
    expect(page.locator("#count")).to_contain_text("11 praises")
    expect(page.locator("#alert")).to_be_hidden()
    assert held
    for request in held:
        request.continue_()
    assert praise_in(home, session.id) == 11


def test_an_answer_that_can_not_be_shown_in_place_is_loaded_anew(page: Page, home: Home) -> None:
    """It was recorded, and the page must not say otherwise."""
    session = write_lesson(home.log, *BODIES)
    page.goto(f"live/{session.id}")
    page.evaluate("() => { Idiomorph.morph = () => { throw new Error('not now'); }; }")
    press(page, "Praise")
    expect(page.locator("#count")).to_contain_text("11 praises")
    expect(page.locator("#alert")).to_be_hidden()
    assert praise_in(home, session.id) == 11


def test_the_page_lives_through_a_restart_of_the_companion(
    home: Home, browser_window: BrowserContext
) -> None:
    """While it is away the page says so; a press meanwhile is recorded once it is back, and once only."""
    session = write_lesson(home.log, *BODIES)
    clock = ComputerClock().wall
    first = PageServer(home, LogPort(home.log, clock), clock).start()
    page = browser_window.new_page()
    page.goto(first.address(f"/live/{session.id}"))
    expect(page.locator("#count")).to_contain_text("10 praises")
    first.stop()
    expect(page.locator("#connection")).to_contain_text("No connection to the companion")
    before = clock()
    press(page, "Praise")
    pressed = clock()
    expect(page.locator("#connection")).to_contain_text("Not recorded yet")
    assert until(lambda: clock() > pressed + timedelta(seconds=1))
    second = PageServer(home, LogPort(home.log, clock), clock).start()
    try:
        assert second.port == first.port
        expect(page.locator("#count")).to_contain_text("11 praises")
        expect(page.locator("#connection")).to_be_hidden()
    finally:
        second.stop()
    assert praise_in(home, session.id) == 11
    with open_log(home.log) as log:
        at_ms = log.session(session.id).marks[-1].at_ms
    # It counts for the moment in which it was made.
    assert before - CLOSELY <= session.opened_at + timedelta(milliseconds=at_ms) <= pressed + CLOSELY


def test_a_mark_that_waits_for_the_log_is_told_for_as_long_as_it_waits(page: Page, tmp_path: Path) -> None:
    """It did work: no alert says otherwise, neither while another program holds the log nor afterwards."""
    home, clock = Home(tmp_path / "running").create(), HandClock()
    live = Live(home.log, settings(), clock=clock)
    live.start()
    server = PageServer(home, LivePort(live, lambda: None, LogPort(home.log, clock.wall)), clock.wall).start()
    page.goto(server.address(f"/live/{live.open(Opening('4-Hazel'), Source.KEY).result(20).id}"))
    with closing(sqlite3.connect(home.log, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        press(page, "Praise")
        expect(page.locator(".trouble")).to_contain_text("1 step of this lesson waits in memory")
        expect(page.locator("#main:not([aria-busy=true])")).to_be_visible()
        expect(page.locator("#alert")).to_be_hidden()
        other.execute("ROLLBACK")
    expect(page.locator("#count")).to_contain_text("1 praise")
    expect(page.locator(".trouble")).to_have_count(0)
    server.stop()
    live.stop()


def test_what_can_not_be_recorded_is_told_on_the_page(window: BrowserContext, home: Home) -> None:
    """The page says what is wrong and what is safe, and shows no mark that is not in the log."""
    session = write_lesson(home.log, *BODIES, CLOSE)
    page = window.new_page()
    page.goto(f"review/{session.id}")
    page.evaluate("deafen()")
    with open_log(home.log) as log:
        settled = ev.SessionSettled()
        log.append(session.id, settled, at=session.opened_at, offset_ms=session.last_ms)
    page.locator("#m3").get_by_role("button", name="Keep").click()
    expect(page.get_by_role("alert")).to_contain_text("the session is settled")
