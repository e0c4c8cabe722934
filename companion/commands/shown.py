"""How marks, phases and times look in the terminal."""

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from companion.commands.chosen import SHORT
from companion.language import _, word
from companion.lesson.counting import count_words, minute, signed
from companion.lesson.doubts import ReviewList, review_list
from companion.lesson.handoff import phase_summaries
from companion.lesson.mark import WHOLE_CLASS, IndividualNote, Kind, Mark, scope_words
from companion.lesson.near_miss import NearMiss
from companion.lesson.session import Session
from companion.lesson.span import Stretch

SIGN = {Kind.PRAISE: "+", Kind.REMINDER: "–"}
"""Beside the word, never in its place."""


def mark_line(mark: Mark) -> str:
    """Return a mark in one line, for a terminal and for a log."""
    where = "" if mark.scope == WHOLE_CLASS else f" ({scope_words(mark.scope)})"
    line = f"{minute(mark.at_ms)}  {SIGN[mark.kind]} {_(mark.kind)}{where} · {mark.phase}"
    if mark.routine:
        line += f", {mark.routine}"
    if mark.phrase and mark.confidence is not None:
        line += f" · {_('heard “{phrase}” {sure}', phrase=mark.phrase, sure=f'{mark.confidence:.0%}')}"
    return line


def near_miss_line(miss: NearMiss) -> str:
    """Return a near miss in one line."""
    sure = f"{miss.confidence:.0%}"
    if miss.cue_alone:
        what = _("the cue alone {sure}", sure=sure)
    else:
        asked = "" if miss.kind else f", {miss.wish}"
        what = _("perhaps “{phrase}” {sure}", phrase=miss.phrase, sure=sure) + asked
    return f"{minute(miss.at_ms)}  ? {_('near miss')} · {miss.phase} · {what}"


def stretch_line(stretch: Stretch) -> str:
    """Return a stretch that was not heard in one line."""
    began = minute(stretch.began_ms)
    span = (
        _("{began} to the end", began=began)
        if stretch.ended_ms is None
        else _("{began} to {ended}", began=began, ended=minute(stretch.ended_ms))
    )
    return f"{span}  {_('not heard: {reason}', reason=_(stretch.reason))}"


def count_line(session: Session) -> str:
    """Return the count and what it earns in one line."""
    counted = _(
        "{counts}: {recognition}",
        counts=count_words(session.praise, session.reminder),
        recognition=session.recognition or _("no recognition"),
    )
    # Where the teacher has decided, no further praise leads on.
    further = session.next_level if session.overruled is None else None
    if further is None:
        return counted
    ahead = _("{level} from a margin of {margin}", level=further.name, margin=signed(further.least_margin))
    return f"{counted}; {ahead}"


def unfinished_lines(session: Session) -> list[str]:
    """Return a line for each individual note that says no child yet, and what to do about it."""
    return [
        _(
            "Unfinished note {note}: {about}. Complete it with: companion review {session} note {note} "
            "--child {example}; or throw it away with: companion review {session} drop {note}",
            note=note.id,
            about=_note_words(note),
            session=session.id[:SHORT],
            example='"seat 12"',
        )
        for note in session.notes
        if not note.complete
    ]


def _note_words(note: IndividualNote) -> str:
    where = f", {note.phase}" if note.phase else ""
    return f"{_(note.kind)}, {minute(note.at_ms)}{where}"


def print_review_list(console: Console, session: Session) -> None:
    """Print everything that the review shows, what needs a look first."""
    for line in unfinished_lines(session):
        console.print(line, markup=False, soft_wrap=True)
    shown = review_list(session)
    table = Table(box=None, pad_edge=False)
    for column in (_("id"), _("time"), _("phase"), _("kind"), _("heard"), _("sure"), _("look")):
        table.add_column(column, overflow="fold")
    for row in _rows(shown):
        table.add_row(*(escape(cell) for cell in row))
    console.print(table if table.row_count else _("There are no marks."))
    for stretch in shown.unheard:
        console.print(stretch_line(stretch), markup=False)
    if shown.phases_without_marks:
        phases = ", ".join(shown.phases_without_marks)
        console.print(_("Phases without a mark: {phases}", phases=phases), markup=False)
    console.print(count_line(session), markup=False)


def _rows(shown: ReviewList) -> list[tuple[str, ...]]:
    rows = []
    for doubtful in shown.doubtful:
        look = "; ".join(doubtful.doubts)
        if doubtful.earlier_phase:
            look += f" ({_('or {phase}?', phase=doubtful.earlier_phase)})"
        rows.append(_row(doubtful.mark, look))
    rows += [
        (
            miss.id,
            minute(miss.at_ms),
            miss.phase,
            f"{miss.wish}?",
            miss.phrase or _("the cue alone"),
            f"{miss.confidence:.0%}",
            _("near miss"),
        )
        for miss in shown.near_misses
    ]
    rows += [_row(mark, "") for mark in shown.clear]
    rows += [_row(mark, word("mark", mark.state)) for mark in shown.reviewed]
    return rows


def _row(mark: Mark, look: str) -> tuple[str, ...]:
    scope = "" if mark.scope == WHOLE_CLASS else f" ({scope_words(mark.scope)})"
    sure = "" if mark.confidence is None else f"{mark.confidence:.0%}"
    heard = mark.phrase or _(mark.source)
    kind = f"{SIGN[mark.kind]} {_(mark.kind)}{scope}"
    return (mark.id, minute(mark.at_ms), mark.phase, kind, heard, sure, look)


def print_reflection(console: Console, session: Session) -> None:
    """Print the summary for the talk with the class, phase by phase."""
    for summary in phase_summaries(session):
        console.print(f"{summary.phase}:", markup=False)
        if summary.went_well:
            console.print(
                f"  {_('went well: {routines}', routines='; '.join(summary.went_well))}", markup=False
            )
        if summary.to_work_on:
            routines = "; ".join(summary.to_work_on)
            console.print(f"  {_('needed a reminder: {routines}', routines=routines)}", markup=False)
    if session.self_rating:
        console.print(_("The class says: {rating}", rating=_(session.self_rating.rating)), markup=False)
    if session.teacher_view:
        console.print(_("The teacher says: {view}", view=session.teacher_view), markup=False)
