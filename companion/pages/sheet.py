"""A hand-off note as one sheet: on its own page, among the notes of today, and as a file."""

from dataclasses import dataclass

from companion.language import _
from companion.lesson.aftercare import NoteHandedOver
from companion.lesson.handoff import (
    NO_MARK_LINE,
    HandOffNote,
    hand_off_note,
    praised,
    private_lines,
    reminded,
)
from companion.lesson.session import Session
from companion.lesson.undo import last_step
from companion.log.care import kept_for_note
from companion.log.store import SessionLog


@dataclass(frozen=True, slots=True)
class Sheet:
    """All that stands on the sheet, in words, and whether it was handed over."""

    session: str
    note: HandOffNote
    room: str
    went_well: tuple[str, ...]
    to_work_on: tuple[str, ...]
    private: tuple[str, ...]
    no_mark: str
    """That no mark was made, where that is so."""
    handed_over: str
    """How it was handed over; "" if it was not."""
    changed_since: bool
    undo_handing: int
    """Number of the event that undo would take back, where that is the handing over; else 0."""


def note_of(log: SessionLog, session: Session) -> HandOffNote:
    """Return the hand-off note of a session, with the kept promises that the teacher wants on it."""
    return hand_off_note(session, tuple(kept_for_note(log, session)))


def sheet_of(log: SessionLog, session: Session) -> Sheet:
    """Return the sheet of a session."""
    note = note_of(log, session)
    step = last_step(session)
    return Sheet(
        session.id,
        note,
        session.room,
        praised(note),
        reminded(note),
        private_lines(note),
        "" if note.marked or note.recognition else _(NO_MARK_LINE),
        str(session.handed_over or ""),
        session.changed_since_handed_over,
        step[-1].seq if step and isinstance(step[-1].body, NoteHandedOver) else 0,
    )
