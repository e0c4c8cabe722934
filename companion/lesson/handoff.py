"""The hand-off note for the class's own teacher, and the reflection that it comes from."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from companion.language import _, later, many
from companion.lesson.counting import count_words
from companion.lesson.day_words import hour, year_day
from companion.lesson.mark import WHOLE_CLASS, IndividualNote, Kind, Mark, scope_words
from companion.lesson.promise import Promise, due_words, kept_words
from companion.lesson.session import Session
from companion.lesson.signs import with_signs

NO_MARK_LINE = later("No mark was made in this lesson, so there is no recognition.")
INFORMATION_LINE = later("Only so that you know.")

NO_ROUTINE = later("the whole class")
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
    meaning: str = ""
    """What the recognition means, for somebody who does not know the table of levels."""
    advice: str = ""
    """What to keep and what to work on, in one sentence; "" where no mark of the whole class says so."""
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
    return tuple(
        what if n == 1 else many("{what} ({count} time)", "{what} ({count} times)", n, what=what)
        for what, n in counts.most_common()
    )


def _what(mark: Mark) -> str:
    if mark.scope == WHOLE_CLASS:
        return mark.routine or _(NO_ROUTINE)
    scope = scope_words(mark.scope)
    return f"{mark.routine} ({scope})" if mark.routine else scope


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
        meaning=meaning_of(session),
        advice=advice_of(session),
        kept_promises=kept_promises,
    )


def meaning_of(session: Session) -> str:
    """Say what the recognition means: its place in the table, or why the teacher gave another one."""
    if session.overruled is not None:
        reason = session.overruled.reason.rstrip(".")
        return _("The teacher decided on it, whatever the margin says: {reason}.", reason=reason)
    levels = sorted(session.levels, key=lambda level: level.least_margin)
    if not session.tally or not levels:
        return ""
    names = [level.name for level in levels]
    if session.recognition is None:
        return many(
            "The only level, {level}, takes {margin}.",
            "The first of {count} levels, {level}, takes {margin}.",
            len(names),
            level=names[0],
            margin=_more(levels[0].least_margin),
        )
    place = names.index(session.recognition)
    return _(
        "Level {place} of {count}, counted from the lowest: it takes {margin}.",
        place=place + 1,
        count=len(names),
        margin=_more(levels[place].least_margin),
    )


def _more(margin: int) -> str:
    """Say a margin in words."""
    if margin == 0:
        return _("as many praises as reminders")
    if margin > 0:
        return many(
            "at least {count} praise more than reminders",
            "at least {count} praises more than reminders",
            margin,
        )
    return many(
        "at most {count} reminder more than praises", "at most {count} reminders more than praises", -margin
    )


def advice_of(session: Session) -> str:
    """Say in one sentence what went best, to keep it, and what needed most reminders, to practise it."""
    praised, reminded = (_aims(session, kind) for kind in (Kind.PRAISE, Kind.REMINDER))
    best, worst = _foremost(praised), _foremost(reminded)
    if best == worst and best is not None:
        # One sentence can't say both of the same thing.
        if praised[best] >= reminded[best]:
            worst = _foremost(reminded - Counter({best: reminded[best]}))
        else:
            best = _foremost(praised - Counter({best: praised[best]}))
    keep, work_on = _aim_words(best), _aim_words(worst)
    if keep and work_on:
        return _(
            "Keep praising {keep}, and practise {work_on} once before it is needed.",
            keep=keep,
            work_on=work_on,
        )
    if keep:
        return _("Keep praising {keep}.", keep=keep)
    return _("Practise {work_on} once before it is needed.", work_on=work_on) if work_on else ""


def _aims(session: Session, kind: Kind) -> Counter[tuple[str, str]]:
    """Count the routines and phases that marks of a kind were for, of those about the whole class."""
    return Counter(
        (mark.routine or "", mark.phase)
        for mark in session.standing
        if mark.kind is kind and mark.scope == WHOLE_CLASS and mark.phase
    )


def _foremost(counts: Counter[tuple[str, str]]) -> tuple[str, str] | None:
    """Return what most marks were for, named routines first."""
    return max(counts, key=lambda aim: (bool(aim[0]), counts[aim]), default=None)


def _aim_words(aim: tuple[str, str] | None) -> str:
    if aim is None:
        return ""
    routine, phase = aim
    return (
        _("“{routine}” ({phase})", routine=routine, phase=phase)
        if routine
        else _("how {phase} goes", phase=phase)
    )


def as_text(note: HandOffNote) -> str:
    """Return the note as plain text, ready to be pasted into a message."""
    lines = [
        f"{note.class_group}, {year_day(note.opened_at)}, {hour(note.opened_at)}",
        _(
            "Recognition: {recognition} ({count})",
            recognition=note.recognition or _("none today"),
            count=count_words(note.praise, note.reminder),
        ),
    ]
    if not note.marked and note.recognition is None:
        lines.append(_(NO_MARK_LINE))
    lines += [line for line in (note.meaning, note.advice) if line]
    if not note.settled:
        lines.append(_("Not settled with the class yet."))
    lines += _paragraph(_("What went well"), praised(note))
    lines += _paragraph(_("What to work on"), reminded(note))
    if private := private_lines(note):
        lines += ["", _("Private, about single children:"), *(f"- {line}" for line in private)]
    return with_signs("\n".join([*lines, "", _(INFORMATION_LINE)]))


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
    said = f"{note.child}: {_(note.kind)}" + (f", {note.line}" if note.line else "")
    said += "" if said.endswith((".", "!", "?")) else "."
    if note.contact is None:
        return " ".join((said, _("Family: no contact planned.")))
    contact = note.contact
    family = _(
        "Family: {by} by {how}, {when}.",
        by=_(contact.by),
        how=_(contact.how.removeprefix("by ")),
        when=due_words(contact.due, contact.when),
    )
    return f"{said} {family}"
