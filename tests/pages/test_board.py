"""The board of the day and the window that follows it, in a real browser."""

import io
from collections.abc import Iterator
from datetime import timedelta

import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, Page, expect

from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import FamilyContact, NoteKind, Source
from companion.lesson.promise import PromiseState
from companion.lesson.session import Session
from companion.listening.voice.features import TOPPED_UP
from companion.live.live import Live
from companion.live.pages_port import LivePort
from companion.log.care import awards_out, promises, unsaid
from companion.log.store import open_log
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.paths import Home
from companion.settings.phrase_packs import starter_text
from companion.settings.pictures import Pictures, of_carry_over, of_routine
from tests.listening.voice.sunk import SINCE, hold_lessons, learn_voice
from tests.pages.days import CLOSED, DayPort, hold, kept, marked, whole_day
from tests.school_day import EIGHT, HandClock, settings

Day = dict[str, Session]


@pytest.fixture
def day(home: Home) -> Day:
    """Write a day of lessons."""
    return whole_day(home.log, EIGHT)


@pytest.fixture
def server(home: Home, clock: HandClock) -> Iterator[PageServer]:
    """Serve the pages of a companion with a timetable."""
    serving = PageServer(home, DayPort(home.log, clock), clock.wall).start()
    yield serving
    serving.stop()


def test_the_day_stands_in_order_with_the_next_thing_one_press_away(page: Page, day: Day) -> None:
    """By timetable and as it was held; steps are done or open; an empty lesson waits for nothing."""
    page.goto("./")
    rows = page.locator(".lessonrow")
    assert rows.locator("h2").all_text_contents() == [
        "4-Hazel", "2-Birch", "5-Oak", "7-Rowan", "K-Fir", "3-Elm", "1-Ash",
    ]  # fmt: skip
    expect(rows.nth(0).locator(".pegs .done")).to_have_count(5)
    expect(rows.nth(1).get_by_role("link", name="Complete private notes")).to_be_visible()
    expect(rows.nth(3)).to_contain_text("nothing to review")
    expect(rows.nth(3).locator(".act > a")).to_have_count(0)
    expect(rows.nth(4)).to_have_attribute("aria-current", "true")
    expect(rows.nth(5).get_by_role("button", name="Open 3-Elm now")).to_be_visible()
    rows.nth(2).get_by_role("link", name="Review").first.click()
    expect(page).to_have_url(f"{page.url.split('/review')[0]}/review/{day['review'].id}")


def test_a_promise_is_kept_with_a_line_and_can_be_undone(page: Page, home: Home, day: Day) -> None:
    """The overdue one is first; ticked it is among what was looked after today."""
    page.goto("./")
    rows = page.locator(".promise")
    expect(rows.nth(0)).to_contain_text("6-Alder K. T.: the teacher, phone, by Sunday 13 September overdue")
    expect(rows.nth(1)).to_contain_text("today")
    rows.nth(0).get_by_label("What came of it").fill("All is well.")
    rows.nth(0).get_by_label("on the class's next note").check()
    rows.nth(0).get_by_role("button", name="Done").click()
    expect(rows).to_have_count(1)
    with open_log(home.log) as log:
        promise = log.session(day["before"].id).promises[0]
    assert (promise.state, promise.line, promise.tell) == (PromiseState.KEPT, "All is well.", True)
    page.get_by_role("button", name="Undo 6-Alder").click()
    expect(rows).to_have_count(2)


def test_a_promise_is_moved_or_dropped_with_a_reason(page: Page, home: Home, day: Day) -> None:
    """Both need what they say; nothing is dropped without a word."""
    page.goto("./")
    row = page.locator(".promise").nth(0)
    row.get_by_text("Move or drop").click()
    row.get_by_label("To another day").fill("2026-09-18")
    row.get_by_role("button", name="Move").click()
    expect(page.locator(".promise").nth(1)).to_contain_text("by Friday 18 September")
    # What was unfolded stays so.
    row = page.locator(".promise").nth(1)
    row.get_by_role("button", name="Drop").click()
    expect(page.locator(".promise")).to_have_count(2)
    row.get_by_label("Why it is not needed").fill("the nurse called")
    row.get_by_role("button", name="Drop").click()
    expect(page.locator(".promise")).to_have_count(1)
    with open_log(home.log) as log:
        assert [one.session for one in promises(log)] == [day["settled"].id]


def test_a_promise_in_words_alone_is_on_the_board_and_gets_a_day(page: Page, home: Home) -> None:
    """As logs of before have them: it is never overdue, and can be moved to a day."""
    spoken = FamilyContact("the teacher", "phone", "tomorrow")
    noted = ev.NoteCompleted("n3", "K. T.", NoteKind.OTHER, "", spoken)
    begun = ev.NoteOpened(NoteKind.OTHER, 0, Source.KEY)
    with open_log(home.log) as log:
        hold(log, "6-Alder", EIGHT - timedelta(days=9), begun, noted, CLOSED)
    page.goto("./")
    row = page.locator(".promise")
    expect(row).to_contain_text("6-Alder K. T.: the teacher, phone, tomorrow")
    expect(row).not_to_contain_text("overdue")
    row.get_by_text("Move or drop").click()
    row.get_by_label("To another day").fill("2026-09-18")
    row.get_by_role("button", name="Move").click()
    expect(row).to_contain_text("6-Alder K. T.: the teacher, phone, by Friday 18 September")


def test_of_many_promises_those_around_today_are_on_the_board_and_the_others_a_press_away(
    page: Page, home: Home
) -> None:
    """What is years overdue does not stand before what is due today; done there, the board is shown again."""
    with open_log(home.log) as log:
        for week in range(1, 21):
            promised = FamilyContact("the teacher", "phone", due=EIGHT.date() - timedelta(weeks=20 - week))
            noted = ev.NoteCompleted("n3", f"seat {week}", NoteKind.OTHER, "", promised)
            begun = ev.NoteOpened(NoteKind.OTHER, 0, Source.KEY)
            hold(log, "6-Alder", EIGHT - timedelta(weeks=21 - week), begun, noted, CLOSED)
    page.goto("./")
    rows = page.locator(".promise")
    expect(rows).to_have_count(12)
    expect(rows.first).to_contain_text("seat 9:")
    expect(rows.last).to_contain_text("seat 20:")
    page.get_by_role("link", name="8 more promises to families").click()
    expect(rows).to_have_count(20)
    rows.first.get_by_label("What came of it").fill("They moved.")
    rows.first.get_by_role("button", name="Done").click()
    expect(page.locator("#awards")).to_contain_text("6-Alder, seat 1: the teacher, phone")
    expect(page.get_by_role("link", name="7 more promises to families")).to_be_visible()


def test_an_award_that_is_out_comes_back_with_one_press(page: Page, home: Home, day: Day) -> None:
    """And a press too many has a way back."""
    page.goto("./")
    awards = page.locator("#awards")
    expect(awards).to_contain_text("the brass can is with 6-Alder since Friday 11 September")
    awards.get_by_role("button", name="It is back").click()
    expect(awards).to_contain_text("None is out.")
    awards.get_by_role("button", name="Undo the brass can is back").click()
    expect(awards.get_by_role("button", name="It is back")).to_be_visible()
    with open_log(home.log) as log:
        assert [lent.session for lent in awards_out(log)] == [day["before"].id]


def test_undo_beside_what_was_looked_after_takes_back_that_and_nothing_else(
    page: Page, home: Home, day: Day
) -> None:
    """Of two things done in one lesson only the later one has a way back, until it is taken back."""
    page.goto("./")
    page.locator(".promise").nth(0).get_by_role("button", name="Done").click()
    page.locator("#awards").get_by_role("button", name="It is back").click()
    undo = page.locator("#awards").get_by_role("button", name="Undo")
    expect(undo).to_have_count(1)
    expect(undo).to_have_text("Undo the brass can is back from 6-Alder")
    undo.click()
    expect(undo).to_have_text("Undo 6-Alder, K. T.: the teacher, phone, by Sunday 13 September: kept")
    with open_log(home.log) as log:
        assert [lent.session for lent in awards_out(log)] == [day["before"].id]
        assert log.session(day["before"].id).promises[0].state is PromiseState.KEPT


def test_who_taught_and_what_was_taught_again_is_said_on_the_board(page: Page, home: Home, day: Day) -> None:
    """For a lesson that is over; undo names what it takes back."""
    page.goto("./")
    row = page.locator(".lessonrow").nth(0)
    row.locator("summary").click()
    row.get_by_role("button", name="A guest taught it").click()
    expect(row).to_contain_text("a guest taught it")
    row.get_by_label("Taught again in this lesson").select_option(index=1)
    row.get_by_role("button", name="Taught again").click()
    expect(row).to_contain_text("Taught again:")
    row.get_by_role("button", name="Undo: a routine taught again").click()
    expect(row).not_to_contain_text("Taught again:")
    with open_log(home.log) as log:
        assert log.session(day["settled"].id).by_guest


@pytest.mark.usefixtures("day")
def test_all_notes_of_today_are_printed_in_one_job_and_marked(page: Page, home: Home) -> None:
    """One sheet a class; each is handed over then, and that can be undone; an unsettled lesson has none."""
    with open_log(home.log) as log:
        for group in ("2-Maple", "3-Aspen"):
            hold(log, group, EIGHT + timedelta(minutes=50), *marked(2), *kept(2), CLOSED, ev.SessionSettled())
    page.goto("./")
    page.get_by_role("link", name="3 notes of today, 2 to hand over").click()
    expect(page.locator("article")).to_have_count(3)
    expect(page.locator("main")).to_contain_text("Not settled yet, and so not among them: 2-Birch, 5-Oak.")
    page.evaluate("() => { window.printed = 0; window.print = () => { window.printed += 1; }; }")
    page.get_by_role("button", name="Print all 3").click()
    expect(page.get_by_text("Handed over (printed).")).to_have_count(3)
    assert page.evaluate("window.printed") == 1
    page.get_by_role("button", name="Undo that the note of 3-Aspen was handed over").click()
    expect(page.get_by_text("Handed over (printed).")).to_have_count(2)


def test_a_note_that_was_copied_is_handed_over(page: Page, day: Day) -> None:
    """The board knows at once; the text is on the clipboard."""
    page.goto(f"note/{day['review'].id}")
    page.get_by_role("button", name="Copy as text").click()
    expect(page.get_by_text("Handed over (copied).")).to_be_visible()
    assert "5-Oak" in page.evaluate("navigator.clipboard.readText()")
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_text("Handed over")).to_have_count(0)


@pytest.mark.usefixtures("day")
def test_carry_overs_wait_on_their_page_until_said_moved_or_dropped(page: Page, home: Home) -> None:
    """Moved to another class it waits there."""
    page.goto("next")
    first = page.locator(".first").nth(0)
    expect(first).to_contain_text("Close the tap.")
    first.get_by_role("button", name="Said").click()
    expect(page.locator(".first")).to_have_count(1)
    page.get_by_text("Move or drop").click()
    page.get_by_label("To the class group").select_option("2-Birch")
    page.get_by_role("button", name="Move").click()
    expect(page.get_by_role("heading", name="2-Birch")).to_be_visible()
    page.get_by_role("button", name="Drop").click()
    expect(page.get_by_text("Nothing is left to say.")).to_be_visible()
    with open_log(home.log) as log:
        assert unsaid(log) == []


@pytest.fixture
def running(home: Home, clock: HandClock) -> Iterator[Live]:
    """Start a companion without ears over the same log."""
    live = Live(home.log, settings(timetable=True), clock=clock)
    live.start()
    yield live
    live.stop()


def test_board_and_projector_follow_the_day_by_themselves(
    browser_window: BrowserContext, home: Home, running: Live, clock: HandClock
) -> None:
    """Whoever opens and closes a class, by whichever way, and however many windows are open."""
    clock.go_on(125 * 60)
    running.tick().result()
    serving = PageServer(
        home, LivePort(running, lambda: None, LogPort(home.log, clock.wall)), clock.wall
    ).start()
    board, projector = browser_window.new_page(), browser_window.new_page()
    board.goto(serving.address())
    projector.goto(serving.address("/projector"))
    try:
        expect(projector.locator("h1")).to_have_text("3-Elm")
        expect(projector.locator(".when")).to_have_text("Next, at 13:00")
        opened = running.open_lesson(Source.KEY).result()
        expect(board.locator(".lessonrow.now h2")).to_have_text("3-Elm")
        expect(projector).to_have_url(f"{serving.base}live/{opened.id}/projector?day")
        running.ask(Command(Action.PRAISE), Source.KEY).result()
        expect(projector.locator(".stem.praise")).to_have_count(1)
        live, shown = f"live/{opened.id}", f"live/{opened.id}/projector"
        paths = (
            "projector",
            shown,
            f"review/{opened.id}",
            f"note/{opened.id}",
            "setup/microphone",
            "notes",
            live,
        )
        windows = {path: browser_window.new_page() for path in paths}
        for path, window in windows.items():
            window.goto(f"{serving.base}{path}")
        windows[live].get_by_role("button", name="Praise").click()
        for path in ("projector", shown, live):
            expect(windows[path].locator(".stem.praise")).to_have_count(2)
        together = f"{serving.base}reflection/{opened.id}/projector"
        projector.keyboard.press("s")
        expect(projector).to_have_url(f"{together}?look&day")
        running.close(Source.KEY).result()
        expect(windows["projector"]).to_have_url(f"{together}?day")
        for window in windows.values():
            window.close()
        expect(board.get_by_role("link", name="Review of 3-Elm")).to_be_visible()
        clock.go_on(21 * 60)
        expect(projector.locator("h1")).to_have_text("1-Ash")
        expect(projector.locator("button, nav")).to_have_count(0)
    finally:
        serving.stop()


def test_nothing_private_is_on_a_page_that_follows_the_day(page: Page, day: Day) -> None:
    """No child, no family contact, no promise."""
    for path in (f"live/{day['live'].id}/projector", f"reflection/{day['settled'].id}/projector", "between"):
        page.goto(path)
        shown = page.content()
        assert not [
            word for word in ("K. T.", "S. L.", "splinter", "phone", "peer conflict") if word in shown
        ]


@pytest.mark.usefixtures("day")
def test_what_comes_first_is_said_one_by_one_and_an_award_is_brought_back(page: Page, home: Home) -> None:
    """On the live page of the class's next lesson; the projector shows the same without a button."""
    with open_log(home.log) as log:
        hold(log, "6-Alder", EIGHT - timedelta(days=1), CLOSED, ev.CarryOverWritten("Boots at the door."))
        lesson = hold(log, "6-Alder", EIGHT + timedelta(minutes=160))
    page.goto(f"live/{lesson.id}/projector")
    first = page.locator("#first")
    expect(first.locator(".sayfirst")).to_have_count(3)
    expect(first).to_contain_text("Bring back the brass can")
    expect(first.get_by_role("button")).to_have_count(0)
    page.goto(f"live/{lesson.id}")
    first.get_by_role("button", name="Said Boots at the door.").click()
    expect(first).not_to_contain_text("Boots at the door.")
    expect(first).to_contain_text("Tools by the handle.")
    page.get_by_role("button", name="Praise", exact=True).click()
    for _ in range(2):
        first.get_by_role("button", name="It is back").click()
        expect(first).not_to_contain_text("Bring back")
        expect(page.locator("#done")).to_have_text("Done last: an award that came back.")
        page.get_by_role("button", name="Undo").click()
        expect(first).to_contain_text("Bring back the brass can")
        expect(page.locator("#count")).to_contain_text("1 praise")
    first.get_by_role("button", name="It is back").click()
    expect(first).not_to_contain_text("Bring back")
    first.get_by_role("button", name="Said").click()
    expect(first).to_contain_text("(said)")
    with open_log(home.log) as log:
        assert awards_out(log) == []
        assert "6-Alder" not in {one.class_group for one in unsaid(log)}


def test_pictures_are_shown_with_carry_over_and_routine_on_the_projector(
    page: Page, home: Home, day: Day
) -> None:
    """The tool rack as it should be, where the class is told of it."""
    photo = io.BytesIO()
    Image.new("RGB", (800, 600), "darkgreen").save(photo, "JPEG")
    shelf = Pictures(home.pictures)
    arrival = day["settled"].plan.phases[0].name
    for what in (of_carry_over(day["before"].id), of_routine(arrival, "tools back")):
        shelf.put(what, photo.getvalue(), child_seen=False)
    with open_log(home.log) as log:
        lesson = hold(log, "6-Alder", EIGHT + timedelta(minutes=160))
    for path, name in (
        (f"live/{lesson.id}/projector", "How it should look"),
        (f"reflection/{day['settled'].id}/projector", "How it should look: tools back"),
    ):
        page.goto(path)
        expect(page.get_by_role("img", name=name, exact=True)).to_be_visible()
        assert page.evaluate("document.querySelector('main img').naturalWidth") == 800


def test_a_voice_that_is_heard_less_well_is_told_and_can_be_learnt_again(page: Page, home: Home) -> None:
    """On the board and where the voice is learnt; what came of it stands there."""
    home.settings.write_text(starter_text("en"), "utf-8")
    hold_lessons(home)
    learn_voice(home)
    page.goto("./")
    expect(page.locator("#hearing")).to_contain_text(f"Since {SINCE} your voice is heard less well")
    page.get_by_role("link", name="Let it be learnt again").click()
    expect(page.locator(".heard")).to_contain_text(f"Since {SINCE} your voice is heard less well")
    expect(page.get_by_role("button", name="Learn again from my reviews")).to_have_count(0)
    (home.voice / TOPPED_UP.replace("*", "1")).write_bytes(b"damaged")
    page.reload()
    page.get_by_role("button", name="Learn again from my reviews").click()
    expect(page.get_by_role("alert")).to_contain_text("damaged", timeout=240_000)
