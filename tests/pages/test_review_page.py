"""The review in a real browser: by keys, by a clicker, by hand."""

import re
import time
from collections.abc import Callable

import numpy as np
import pytest
from playwright.sync_api import BrowserContext, Page, expect

from companion.clock import ComputerClock
from companion.lesson import event as ev
from companion.lesson.mark import Kind, MarkState, Source
from companion.lesson.session import Session
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.log.store import open_log
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.paths import Home
from tests.pages.lessons import BODIES, CLOSE, MINUTE, write_lesson

SECONDS_A_PRESS = 1.35 + 0.28
"""One look and decision and one press of a teacher who is no typist (Card, Moran and Newell 1980)."""
RACE_S = 20.0
MOST_PRESSES = 9

WITH_KEYS = ["c", "d", "b", "Enter", "Enter", "Enter", "Enter"]
WITH_CLICKER = [".", "PageDown", "PageUp", ".", "PageDown", "PageDown", "PageDown", "PageDown", "PageDown"]
"""The first three cards are the wrong marks; then a near miss, the gaps, the rest, and on."""


def in_log(home: Home, session: Session) -> Session:
    """Return the session as the log holds it now."""
    with open_log(home.log) as log:
        return log.session(session.id)


@pytest.mark.parametrize("presses", [WITH_KEYS, WITH_CLICKER], ids=["keys", "clicker"])
def test_twelve_marks_with_three_wrong_are_reviewed_within_twenty_seconds(
    page: Page, home: Home, presses: list[str], record_property: Callable[[str, object], None]
) -> None:
    """Keys alone, or a clicker's three buttons, mend the wrong ones, accept the rest and go on."""
    session = write_lesson(home.log)
    assert len(session.marks) == 12
    page.goto(f"review/{session.id}")
    expect(page.locator("#m14")).to_be_focused()
    begun = time.monotonic()
    for key in presses:
        page.keyboard.press(key)
    expect(page.get_by_text("How did our lesson go?")).to_be_visible()
    record_property("presses", len(presses))
    record_property("machine_s", round(time.monotonic() - begun, 2))
    assert len(presses) <= MOST_PRESSES
    assert len(presses) * SECONDS_A_PRESS < RACE_S
    after = in_log(home, session)
    assert after.unreviewed == ()
    assert (after.praise, after.reminder) == (9, 2)
    moved, false, turned = (after.mark(mark) for mark in ("m7", "m8", "m14"))
    assert moved
    assert moved.phase == "opening"
    assert false
    assert false.state is MarkState.DROPPED
    assert turned
    assert turned.kind is Kind.REMINDER
    assert after.near_misses[0].answered


def test_every_step_can_be_taken_back_until_settled(page: Page, home: Home) -> None:
    """Undo takes back one step at a time, and all that was accepted together at once."""
    session = write_lesson(home.log)
    page.goto(f"review/{session.id}")
    for key in ("d", "d", "a"):
        page.keyboard.press(key)
    page.locator("#rest").focus()
    expect(page.locator("#rest")).to_contain_text("1 mark above")
    page.keyboard.press("Enter")
    expect(page.locator("[data-card]:focus")).to_have_attribute("data-open", "")
    page.keyboard.press("u")
    expect(page.locator("#rest")).to_contain_text("9 other marks")
    page.keyboard.press("u")
    page.keyboard.press("u")
    expect(page.get_by_role("button", name="Undo:")).to_have_count(0)
    assert in_log(home, session).marks == session.marks


def test_a_mark_is_changed_and_a_missed_one_added_by_hand(page: Page, home: Home) -> None:
    """Kind, phase, scope and routine are set beneath what the card says; a mark is added in any phase."""
    session = write_lesson(home.log)
    page.goto(f"review/{session.id}")
    card = page.locator("#m17")
    card.get_by_text("More…").click()
    said, fields = card.locator(".why").bounding_box(), card.locator(".fields").bounding_box()
    assert said
    assert fields
    assert said["y"] + said["height"] <= fields["y"]
    card.get_by_label("Kind").select_option("praise")
    card.get_by_label("Phase").select_option("cleanup")
    card.get_by_label("Scope").select_option("table two")
    card.get_by_label("Routine").fill("sweep your own patch")
    card.get_by_role("button", name="Change").click()
    expect(page.locator("#m17")).to_contain_text("praise in cleanup")
    add = page.locator("#add")
    add.get_by_label("Kind").select_option("reminder")
    add.get_by_label("Phase").select_option("stop signal")
    add.get_by_label("Why it comes late").fill("my hands were full")
    add.get_by_role("button", name="Add").click()
    expect(page.locator("#gaps")).not_to_contain_text("stop signal")
    after = in_log(home, session)
    changed, added = after.mark("m17"), next(m for m in after.marks if m.state is MarkState.ADDED)
    assert changed
    assert (changed.kind, changed.phase, changed.scope, changed.routine) == (
        Kind.PRAISE,
        "cleanup",
        "table two",
        "sweep your own patch",
    )
    assert (added.kind, added.phase, added.why) == (Kind.REMINDER, "stop signal", "my hands were full")


def test_a_reload_in_mid_review_loses_nothing_and_goes_on_where_it_was(page: Page, home: Home) -> None:
    """What was decided stays decided, and the next open card has the focus."""
    session = write_lesson(home.log)
    page.goto(f"review/{session.id}")
    page.keyboard.press("d")
    expect(page.locator("#m8")).to_be_focused()
    page.reload()
    expect(page.locator("#m8")).to_be_focused()
    expect(page.locator("#m14")).to_contain_text("dropped")


def test_two_windows_of_one_review_stay_alike(window: BrowserContext, page: Page, home: Home) -> None:
    """A step in one shows in the other; the same step in both is recorded without harm."""
    session = write_lesson(home.log)
    page.goto(f"review/{session.id}")
    other = window.new_page()
    other.goto(f"review/{session.id}")
    page.locator("#m14").get_by_role("button", name="Drop").click()
    expect(other.locator("#m14")).to_contain_text("dropped")
    other.locator("#m14").get_by_role("button", name="Restore").click()
    expect(page.locator("#m14").get_by_role("button", name="Drop")).to_be_visible()
    mark = in_log(home, session).mark("m14")
    assert mark
    assert mark.state is MarkState.KEPT


def test_no_button_moves_under_a_hand_that_keeps_one_mark_after_the_other(page: Page, home: Home) -> None:
    """Where a card grew or a button came into another's place, a second press would drop a mark."""
    page.goto(f"review/{write_lesson(home.log, *BODIES, CLOSE).id}")
    drops = page.locator(".card.mark").get_by_role("button", name="Drop")
    places = [drop.bounding_box() for drop in drops.all()]
    first = page.locator(".card.mark").first
    keep = first.get_by_role("button", name="Keep").element_handle()
    assert keep
    keep.click()
    expect(first.locator(".state")).to_have_text("kept")
    assert not keep.evaluate("one => one.isConnected"), "it has become another button"
    page.evaluate("scrollTo(0, 0)")
    assert [drop.bounding_box() for drop in drops.all()] == places


def test_single_keys_do_nothing_outside_a_card(page: Page, home: Home) -> None:
    """Letters typed into a field, or with nothing focused, never mark or drop anything."""
    session = write_lesson(home.log)
    page.goto(f"review/{session.id}")
    page.locator("#add").get_by_label("Routine").press_sequentially("dack u")
    page.locator("h1").click()
    page.keyboard.press("d")
    page.reload()
    assert in_log(home, session).last_seq == session.last_seq


class SoundInMemory(LogPort):
    """The port of a companion that remembers what two candidates sounded like."""

    def sounds(self, session_id: str) -> frozenset[str]:  # noqa: ARG002 - the protocol's own signature
        """Return a mark and the near miss."""
        return frozenset({"m14", "c15"})

    def sound(self, session_id: str, item: str) -> Sound | None:
        """Return half a second of a quiet tone."""
        if item not in self.sounds(session_id):
            return None
        return (2000 * np.sin(np.arange(SAMPLE_RATE // 2) / 5)).astype(np.int16)


def test_the_sound_of_a_candidate_is_played_while_it_is_in_memory(
    home: Home, browser_window: BrowserContext
) -> None:
    """There is a button exactly where there is a sound, and it fetches that sound from this machine."""
    session, clock = write_lesson(home.log), ComputerClock().wall
    server = PageServer(home, SoundInMemory(home.log, clock), clock).start()
    try:
        page = browser_window.new_page()
        page.goto(server.address(f"/review/{session.id}"))
        expect(page.locator("[data-sound]")).to_have_count(2)
        with page.expect_response("**/sound/c15") as got:
            page.locator("#c15 [data-sound]").click()
        assert got.value.headers["content-type"] == "audio/wav"
        length = page.evaluate(
            """async (address) => {
                const sound = new Audio(address);
                await new Promise((done, fail) => { sound.onloadedmetadata = done; sound.onerror = fail; });
                return sound.duration;
            }""",
            f"{server.base}review/{session.id}/sound/m14",
        )
        assert length == pytest.approx(0.5, abs=0.01)
        assert page.request.get(f"{server.base}review/{session.id}/sound/m3").status == 409
    finally:
        server.stop()


def test_private_notes_are_completed_on_a_page_of_their_own(page: Page, home: Home) -> None:
    """The review shows only that there is one; child, line and family contact are filled in apart."""
    session = write_lesson(home.log)
    page.goto(f"review/{session.id}")
    assert "health office" not in page.content()
    page.get_by_role("link", name="Private notes").click()
    form = page.get_by_role("form", name="Note of minute 29:00")
    form.get_by_label("Initials or seat").fill("seat 12")
    form.get_by_label("What happened").fill("cut finger")
    form.get_by_label("How").select_option("phone")
    form.get_by_label("By the day").fill("")
    form.get_by_role("button", name="Save").click()
    expect(page.get_by_role("alert")).to_contain_text("The family contact is not complete")
    form.get_by_label("Or in words").fill("today")
    form.get_by_role("button", name="Save").click()
    expect(page.get_by_role("alert")).to_be_hidden()
    expect(form.get_by_text("to be completed")).to_have_count(0)
    (note,) = in_log(home, session).notes
    assert (note.child, note.line) == ("seat 12", "cut finger")
    assert note.contact
    assert (note.contact.by, note.contact.how, note.contact.when) == ("the teacher", "phone", "today")


def test_a_note_is_begun_where_there_is_none_and_then_another(page: Page, home: Home) -> None:
    """The button says which."""
    session = write_lesson(home.log, BODIES[0], CLOSE)
    page.goto(f"private/{session.id}")
    page.get_by_role("button", name="Begin a note").click()
    expect(page.get_by_label("Initials or seat")).to_have_count(1)
    page.get_by_role("button", name="Begin another note").click()
    expect(page.get_by_label("Initials or seat")).to_have_count(2)
    assert len(in_log(home, session).notes) == 2


def test_a_long_lesson_with_many_marks_is_drawn_without_hiding_any(page: Page, home: Home) -> None:
    """Forty marks within two minutes still stand side by side or one above the other."""
    marks = [ev.MarkMade(Kind.PRAISE, 2 * MINUTE + 3_000 * i, Source.KEY) for i in range(40)]
    session = write_lesson(home.log, BODIES[0], *marks, CLOSE)
    page.goto(f"review/{session.id}")
    expect(page.locator(".stem.praise")).to_have_count(40)


def test_a_cue_without_a_command_becomes_a_mark_only_of_the_kind_that_is_chosen(
    page: Page, home: Home
) -> None:
    """The card names no kind; both are buttons of their own."""
    alone = ev.NearMissHeard("", MINUTE, 0.8, None, "enrolled", ("no command followed",))
    session = write_lesson(home.log, BODIES[0], alone, CLOSE)
    page.goto(f"review/{session.id}")
    card = page.locator("[data-card=miss]")
    expect(card).to_contain_text("perhaps a mark in arrival")
    expect(card).to_contain_text("near miss: the cue alone, 80 % sure; no command followed")
    expect(card.get_by_role("button", name="It was praise")).to_be_visible()
    card.get_by_role("button", name="It was reminder").click()
    expect(page.locator("[data-card=mark]")).to_contain_text("reminder in arrival")
    (mark,) = in_log(home, session).marks
    assert (mark.kind, mark.phrase) == (Kind.REMINDER, None)


def test_keys_mean_the_same_on_every_card(page: Page, home: Home) -> None:
    """D never adds a mark; after each decision the next card that needs a look has the focus, and is lit."""
    session = write_lesson(home.log)
    page.goto(f"review/{session.id}")
    assert page.evaluate("scrollY") == 0
    for key, item, following in (
        ("c", "m14", "m8"),
        ("b", "m8", "m8"),
        ("d", "m8", "m7"),
        ("b", "m7", "c15"),
    ):
        expect(page.locator(f"#{item}")).to_be_focused()
        expect(page.locator(f"#stem-{item}")).to_have_class(re.compile("lit"))
        page.keyboard.press(key)
        expect(page.locator(f"#{following}")).to_be_focused()
    page.keyboard.press("d")
    expect(page.locator("#gaps")).to_be_focused()
    expect(page.locator("#pin")).not_to_have_class(re.compile("shown"))
    after = in_log(home, session)
    assert after.praise + after.reminder == 11
    assert after.near_misses[0].answered
    page.locator("#m3").focus()
    page.keyboard.press("f")
    expect(page.locator("#m3").get_by_label("Phase")).to_be_focused()
    page.keyboard.press("Escape")
    expect(page.locator("#m3")).to_be_focused()
    expect(page.get_by_role("heading", name="Review")).to_be_in_viewport()


def test_a_settled_review_shows_no_button_that_would_be_refused(page: Page, home: Home) -> None:
    """Only opening again, for a reason."""
    session = write_lesson(home.log, *BODIES, CLOSE, ev.SessionSettled())
    page.goto(f"review/{session.id}")
    assert page.get_by_role("button").all_inner_texts() == ["Open again"]
    page.get_by_label("Open again, because").fill("one table was forgotten")
    page.get_by_role("button", name="Open again").click()
    page.wait_for_url("**/reflection/**")
    page.goto(f"review/{session.id}")
    expect(page.locator("#m14").get_by_role("button", name="Drop")).to_be_visible()
