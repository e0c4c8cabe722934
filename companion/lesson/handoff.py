"""The hand-off note for the class's own teacher, and the reflection that it comes from."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from companion.lesson.counting import count_words
from companion.lesson.mark import WHOLE_CLASS, IndividualNote, Kind, Mark
from companion.lesson.promise import Promise, due_words, kept_words
from companion.lesson.session import Session

NO_MARK_LINE = "No mark was made in this lesson, so there is no recognition."
INFORMATION_LINE = "Only so that you know."

NO_ROUTINE = "the whole class"
"""Whom a mark was for, where no routine was named: plain words for somebody who was not there."""


@dataclass(frozen=True, slots=True)
class PhaseSummary:
    """What went well in a phase and what needed a reminder: routines, never children."""

    phase: str
    praise: int
    reminder: int
    went_well: tuple[str, ...]
    to_work_on: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class HandOffNote:
    """All that stands on the note; nothing else of the session may reach its reader."""

    class_group: str
    opened_at: datetime
    recognition: str | None
    praise: int
    reminder: int
    margin: int
    phases: tuple[PhaseSummary, ...]
    """The phases with at least one standing mark, in the order of the lesson."""
    notes: tuple[IndividualNote, ...]
    """Completed individual notes; private to the class's own teacher."""
    settled: bool
    kept_promises: tuple[Promise, ...] = ()
    """Family contacts since the class's last lesson, where the teacher wants them told; private."""

    @property
    def marked(self) -> bool:
        """Whether any mark stands."""
        return bool(self.praise or self.reminder)


def phase_summaries(session: Session) -> tuple[PhaseSummary, ...]:
    """Return a summary of each phase of the lesson that has a standing mark, in the plan's order."""
    ran = [span.name for span in session.phases]
    planned = [phase.name for phase in session.plan]
    names = dict.fromkeys(name for name in [*planned, *ran])
    summaries = (_summary(session, name) for name in names)
    return tuple(summary for summary in summaries if summary.praise or summary.reminder)


def _summary(session: Session, phase: str) -> PhaseSummary:
    marks = [mark for mark in session.standing if mark.phase == phase]
    praises = [mark for mark in marks if mark.kind is Kind.PRAISE]
    reminders = [mark for mark in marks if mark.kind is Kind.REMINDER]
    return PhaseSummary(phase, len(praises), len(reminders), _said(praises), _said(reminders))


def _said(marks: list[Mark]) -> tuple[str, ...]:
    """Return what the marks were for, most frequent first, with a count above one."""
    counts = Counter(_what(mark) for mark in marks)
    return tuple(what if n == 1 else f"{what} ({n} times)" for what, n in counts.most_common())


def _what(mark: Mark) -> str:
    if mark.scope == WHOLE_CLASS:
        return mark.routine or NO_ROUTINE
    return f"{mark.routine} ({mark.scope})" if mark.routine else mark.scope


def hand_off_note(session: Session, kept_promises: tuple[Promise, ...] = ()) -> HandOffNote:
    """Return the note for the class's own teacher. Notes that name no child yet are left out."""
    return HandOffNote(
        class_group=session.class_group,
        opened_at=session.opened_at,
        recognition=session.recognition,
        praise=session.praise,
        reminder=session.reminder,
        margin=session.margin,
        phases=phase_summaries(session),
        notes=tuple(note for note in session.notes if note.complete),
        settled=session.settled,
        kept_promises=kept_promises,
    )


def as_text(note: HandOffNote) -> str:
    """Return the note as plain text, ready to be pasted into a message."""
    lines = [
        f"{note.class_group}, {note.opened_at:%A %d %B %Y, %H:%M}",
        f"Recognition: {note.recognition or 'none today'} ({count_words(note.praise, note.reminder)})",
    ]
    if not note.marked and note.recognition is None:
        lines.append(NO_MARK_LINE)
    if not note.settled:
        lines.append("Not settled with the class yet.")
    lines += _paragraph("What went well", praised(note))
    lines += _paragraph("What to work on", reminded(note))
    if private := private_lines(note):
        lines += ["", "Private, about single children:", *(f"- {line}" for line in private)]
    return "\n".join([*lines, "", INFORMATION_LINE])


def praised(note: HandOffNote) -> tuple[str, ...]:
    """Return what went well, a line for each phase: `cleanup: rinse and hang up; table four`."""
    return tuple(_line(summary.phase, summary.went_well) for summary in note.phases if summary.went_well)


def reminded(note: HandOffNote) -> tuple[str, ...]:
    """Return what to work on, a line for each phase."""
    return tuple(_line(summary.phase, summary.to_work_on) for summary in note.phases if summary.to_work_on)


def _line(phase: str, said: tuple[str, ...]) -> str:
    return f"{phase}: {'; '.join(said)}"


def _paragraph(title: str, said: tuple[str, ...]) -> list[str]:
    return ["", f"{title}:", *(f"- {line}" for line in said)] if said else []


def private_lines(note: HandOffNote) -> tuple[str, ...]:
    """Return what is about single children: individual notes, then family contacts that were made since."""
    return (*map(private_line, note.notes), *map(kept_words, note.kept_promises))


def private_line(note: IndividualNote) -> str:
    """Return one individual note as a line: child, kind, what happened, what will be done and by when."""
    said = f"{note.child}: {note.kind}" + (f", {note.line}" if note.line else "")
    said += "" if said.endswith((".", "!", "?")) else "."
    if note.contact is None:
        return f"{said} Family: no contact planned."
    contact = note.contact
    how = contact.how.removeprefix("by ")
    return f"{said} Family: {contact.by} by {how}, {due_words(contact.due, contact.when)}."
