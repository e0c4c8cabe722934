"""How marks, phases and times look in the terminal."""

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from companion.commands.chosen import SHORT
from companion.lesson.counting import count_words, minute, signed
from companion.lesson.doubts import ReviewList, review_list
from companion.lesson.handoff import phase_summaries
from companion.lesson.mark import WHOLE_CLASS, IndividualNote, Kind, Mark
from companion.lesson.near_miss import NearMiss
from companion.lesson.session import Session
from companion.lesson.span import Stretch

SIGN = {Kind.PRAISE: "+", Kind.REMINDER: "–"}
"""Beside the word, never in its place."""


def mark_line(mark: Mark) -> str:
    """Return a mark in one line, for a terminal and for a log."""
    where = "" if mark.scope == WHOLE_CLASS else f" ({mark.scope})"
    what = f", {mark.routine}" if mark.routine else ""
    heard = (
        f" · heard “{mark.phrase}” {mark.confidence:.0%}"
        if mark.phrase and mark.confidence is not None
        else ""
    )
    return f"{minute(mark.at_ms)}  {SIGN[mark.kind]} {mark.kind}{where} · {mark.phase}{what}{heard}"


def near_miss_line(miss: NearMiss) -> str:
    """Return a near miss in one line."""
    if miss.cue_alone:
        what = f"the cue alone {miss.confidence:.0%}"
    else:
        asked = "" if miss.kind else f", {miss.wish}"
        what = f"perhaps “{miss.phrase}” {miss.confidence:.0%}{asked}"
    return f"{minute(miss.at_ms)}  ? near miss · {miss.phase} · {what}"


def stretch_line(stretch: Stretch) -> str:
    """Return a stretch that was not heard in one line."""
    end = "the end" if stretch.ended_ms is None else minute(stretch.ended_ms)
    return f"{minute(stretch.began_ms)} to {end}  not heard: {stretch.reason}"


def count_line(session: Session) -> str:
    """Return the count and what it earns in one line."""
    earned = session.recognition or "no recognition"
    # Where the teacher has decided, no further praise leads on.
    further = session.next_level if session.overruled is None else None
    ahead = "" if further is None else f"; {further.name} from a margin of {signed(further.least_margin)}"
    return f"{count_words(session.praise, session.reminder)}: {earned}{ahead}"


def unfinished_lines(session: Session) -> list[str]:
    """Return a line for each individual note that says no child yet, and what to do about it."""
    review = f"companion review {session.id[:SHORT]}"
    return [
        f"Unfinished note {note.id}: {_note_words(note)}. Complete it with: "
        f'{review} note {note.id} --child "seat 12"; or throw it away with: {review} drop {note.id}'
        for note in session.notes
        if not note.complete
    ]


def _note_words(note: IndividualNote) -> str:
    where = f", {note.phase}" if note.phase else ""
    return f"{note.kind}, {minute(note.at_ms)}{where}"


def print_review_list(console: Console, session: Session) -> None:
    """Print everything that the review shows, what needs a look first."""
    for line in unfinished_lines(session):
        console.print(line, markup=False, soft_wrap=True)
    shown = review_list(session)
    table = Table(box=None, pad_edge=False)
    for column in ("id", "time", "phase", "kind", "heard", "sure", "look"):
        table.add_column(column, overflow="fold")
    for row in _rows(shown):
        table.add_row(*(escape(cell) for cell in row))
    console.print(table if table.row_count else "There are no marks.")
    for stretch in shown.unheard:
        console.print(stretch_line(stretch), markup=False)
    if shown.phases_without_marks:
        console.print(f"Phases without a mark: {', '.join(shown.phases_without_marks)}", markup=False)
    console.print(count_line(session), markup=False)


def _rows(shown: ReviewList) -> list[tuple[str, ...]]:
    rows = []
    for doubtful in shown.doubtful:
        look = "; ".join(doubtful.doubts)
        if doubtful.earlier_phase:
            look += f" (or {doubtful.earlier_phase}?)"
        rows.append(_row(doubtful.mark, look))
    rows += [
        (
            miss.id,
            minute(miss.at_ms),
            miss.phase,
            f"{miss.wish}?",
            miss.phrase or "the cue alone",
            f"{miss.confidence:.0%}",
            "near miss",
        )
        for miss in shown.near_misses
    ]
    rows += [_row(mark, "") for mark in shown.clear]
    rows += [_row(mark, mark.state) for mark in shown.reviewed]
    return rows


def _row(mark: Mark, look: str) -> tuple[str, ...]:
    scope = "" if mark.scope == WHOLE_CLASS else f" ({mark.scope})"
    sure = "" if mark.confidence is None else f"{mark.confidence:.0%}"
    heard = mark.phrase or mark.source
    kind = f"{SIGN[mark.kind]} {mark.kind}{scope}"
    return (mark.id, minute(mark.at_ms), mark.phase, kind, heard, sure, look)


def print_reflection(console: Console, session: Session) -> None:
    """Print the summary for the talk with the class, phase by phase."""
    for summary in phase_summaries(session):
        console.print(f"{summary.phase}:", markup=False)
        if summary.went_well:
            console.print(f"  went well: {'; '.join(summary.went_well)}", markup=False)
        if summary.to_work_on:
            console.print(f"  needed a reminder: {'; '.join(summary.to_work_on)}", markup=False)
    if session.self_rating:
        console.print(f"The class says: {session.self_rating.rating}", markup=False)
    if session.teacher_view:
        console.print(f"The teacher says: {session.teacher_view}", markup=False)
