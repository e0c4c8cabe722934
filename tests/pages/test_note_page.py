"""The hand-off note on screen, on paper and as text."""

import io

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from companion.lesson import event as ev
from companion.lesson.handoff import INFORMATION_LINE, as_text, hand_off_note
from companion.lesson.mark import FamilyContact, Kind, NoteKind, Source
from companion.lesson.session import Session
from companion.log.store import open_log
from companion.paths import Home
from tests.pages.lessons import BODIES, CLOSE, NOTE, PLAN, record, write_lesson

MM = 72 / 25.4
SHEETS = {"Letter": (215.9 * MM, 279.4 * MM), "A4": (210 * MM, 297 * MM)}


@pytest.fixture
def session(home: Home) -> Session:
    """Return a full lesson: every routine praised and reminded, four private notes, one not complete."""
    opened = write_lesson(home.log, *BODIES, NOTE, class_group="3-은행나무")
    with open_log(home.log) as log:
        for phase in PLAN:
            for routine in phase.routines:
                for kind in Kind:
                    opened = record(log, opened, ev.MarkAdded(kind, phase.name, routine=routine))
        for child in ("M. O.", "seat 4", "seat 17", ""):
            opened = record(log, opened, ev.NoteOpened(NoteKind.PEER_CONFLICT, opened.last_ms, Source.VOICE))
            if child:
                contact = FamilyContact("the school’s counsellor", "in person", "Friday at pick-up time")
                line = "a quarrel over the watering can that went on in the line; both were heard"
                done = ev.NoteCompleted(opened.notes[-1].id, child, NoteKind.PEER_CONFLICT, line, contact)
                opened = record(log, opened, done)
        return record(log, opened, CLOSE, ev.SessionSettled())


@pytest.mark.parametrize("sheet", SHEETS)
def test_a_full_note_is_one_sheet_of_paper(page: Page, session: Session, sheet: str) -> None:
    """Everything that the reader needs is on one page of the right size; no button is printed."""
    page.goto(f"note/{session.id}")
    made = PdfReader(io.BytesIO(page.pdf(format=sheet, prefer_css_page_size=False)))
    assert len(made.pages) == 1
    box = made.pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(SHEETS[sheet], abs=1.5)
    text = " ".join(made.pages[0].extract_text().split())
    for expected in (
        "Full Basket",
        "What went well",
        "What to work on",
        "K. T.",
        "seat 17",
        INFORMATION_LINE,
    ):
        assert expected in text
    for only_on_screen in ("Print or save", "Copy as text", "Set-up"):
        assert only_on_screen not in text


def test_the_note_is_copied_as_plain_text(page: Page, session: Session) -> None:
    """What is pasted is the same note as the command line prints; that it was copied can be read then."""
    page.goto(f"note/{session.id}")
    page.get_by_role("button", name="Copy as text").click()
    expect(page.locator(".tools")).to_contain_text("Handed over")
    expect(page.locator("#said")).to_have_text("Copied.")
    told = page.locator("#said").bounding_box()
    assert told
    assert told["height"] > 20
    assert page.evaluate("navigator.clipboard.readText()") == as_text(hand_off_note(session))
    assert page.request.get(f"note/{session.id}/plain").text() == as_text(hand_off_note(session))


def test_nothing_that_the_reader_may_not_see_is_on_the_note(page: Page, home: Home, session: Session) -> None:
    """No other class, no carry-over, no near miss, no note without a child, and nothing behind the page."""
    other = write_lesson(home.log, *BODIES, NOTE, class_group="5-Rowan")
    page.goto(f"note/{session.id}")
    article = page.locator(".handoff").inner_text()
    for unseen in (other.class_group, "hoses", "well done garden", "unreviewed"):
        assert unseen not in article
    expect(page.locator(".tools")).to_contain_text("1 private note without initials or seat")
    assert article.count("peer conflict") == 3
