"""The lesson as one line through time: where on it phases, marks and silent stretches lie.

Places are percent of the drawing's width, so that it fits any screen; heights are rows that the
template turns into pixels.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from companion.language import _
from companion.lesson.counting import minute
from companion.lesson.mark import WHOLE_CLASS, Kind, Mark, scope_words
from companion.lesson.plan_clock import phase_left_ms
from companion.lesson.session import Session
from companion.lesson.span import PhaseSpan

TIME = 84.0
"""Where the lesson ends; beyond it stands what is left to the next level."""
LEAF = 2.8
"""Width of a mark. Marks of one kind that are closer stand above each other, and then beside each other."""
ROWS = 4
"""Rows of marks on each side of the line."""
OUTLINES = 5
"""Empty leaves beside each other."""
MOST_OUTLINES = OUTLINES * ROWS
LETTER = 1.05
"""Width of a letter of a phase's name, which grows with the drawing."""
LONGEST_OVER_MS = 30 * 60_000
"""A lesson that nobody closed is drawn no longer than this after its last mark or its plan."""


@dataclass(frozen=True, slots=True)
class Bed:
    """A phase on the line."""

    name: str
    x: float
    width: float
    row: int
    """Row of its name beneath the line; names that would touch get different ones."""
    when: str
    """`past`, `now` or `ahead`."""
    minutes: int


@dataclass(frozen=True, slots=True)
class Stem:
    """A mark on the line."""

    id: str
    x: float
    """Where it stands on the line."""
    head: float
    """Where its leaf or tag is: beside `x` where others are in the way."""
    row: int
    """0 next to the line, then away from it."""
    kind: Kind
    words: str
    fresh: bool
    """Whether it is the newest of a lesson that goes on."""


@dataclass(frozen=True, slots=True)
class Silence:
    """A stretch that was not heard."""

    x: float
    width: float
    words: str


@dataclass(frozen=True, slots=True)
class Line:
    """Everything that the drawing shows."""

    beds: tuple[Bed, ...]
    stems: tuple[Stem, ...]
    silences: tuple[Silence, ...]
    now: float | None
    praise_rows: int
    reminder_rows: int
    name_rows: int
    outlines: tuple[tuple[float, int], ...] = ()
    """Place and row of each leaf that is left to the next level."""
    end_ms: int = 1

    def place(self, at_ms: int) -> float:
        """Return where a moment of the lesson lies."""
        return _place(at_ms, self.end_ms)


def _place(at_ms: int, end_ms: int) -> float:
    return round(TIME * min(max(at_ms, 0), end_ms) / end_ms, 2)


def elapsed_ms(session: Session, now_ms: int) -> int:
    """Return how far the lesson is, given the milliseconds of wall time since it opened."""
    if session.closed_ms is not None:
        return session.closed_ms
    planned = round(session.plan.minutes * 60_000)
    moments = [span.began_ms for span in session.phases] + [mark.at_ms for mark in session.marks]
    lived = max(moments, default=0)
    return max(lived, min(now_ms, max(lived, planned) + LONGEST_OVER_MS))


def left_ms(session: Session, now_ms: int) -> int | None:
    """Return what is left of the running phase by its plan, negative when it is over; None if unplanned."""
    return None if session.closed else phase_left_ms(session, now_ms)


def line_of(session: Session, now_ms: int) -> Line:
    """Return the drawing of `session` as it is at `now_ms`."""
    spans = [*_ran(session, now_ms), *_ahead(session, now_ms)]
    end = max([1, now_ms, *(ended for _, _, ended, _ in spans), *(mark.at_ms for mark in session.marks)])

    def place(at_ms: int) -> float:
        return _place(at_ms, end)

    places = {mark.id: place(mark.at_ms) for mark in session.marks}
    stems = tuple(_stems(session.standing, places, grows=not session.closed))
    beds = _with_rows(
        [
            Bed(
                name,
                place(began),
                round(place(ended) - place(began), 2),
                0,
                when,
                round((ended - began) / 60_000),
            )
            for name, began, ended, when in spans
        ]
    )
    return Line(
        beds=beds,
        stems=stems,
        silences=tuple(
            Silence(place(s.began_ms), max(0.4, place(s.ended_ms or now_ms) - place(s.began_ms)), s.reason)
            for s in (*session.unheard, *session.pauses)
        ),
        now=None if session.closed else place(now_ms),
        praise_rows=_rows(stem.row for stem in stems if stem.kind is Kind.PRAISE),
        reminder_rows=_rows(stem.row for stem in stems if stem.kind is Kind.REMINDER),
        name_rows=_rows(bed.row for bed in beds),
        outlines=tuple(_outlines(session)),
        end_ms=end,
    )


def _outlines(session: Session) -> Iterable[tuple[float, int]]:
    """Yield the places of the praises that are left to the next level, at the bed's end."""
    ahead = session.next_level
    if ahead is None or session.closed:
        return
    for index in range(min(max(1, ahead.least_margin - session.margin), MOST_OUTLINES)):
        yield round(TIME + 2.5 + LEAF * (index % OUTLINES), 2), index // OUTLINES


def _rows(rows: Iterable[int]) -> int:
    return 1 + max(rows, default=0)


def _ran(session: Session, now_ms: int) -> Iterable[tuple[str, int, int, str]]:
    for span in session.phases:
        running = span.ended_ms is None
        ended = max(span.began_ms, now_ms) if span.ended_ms is None else span.ended_ms
        if running and not session.closed:
            ended = max(ended, _planned_end(session, span))
        yield span.name, span.began_ms, ended, "now" if running and not session.closed else "past"


def _ahead(session: Session, now_ms: int) -> Iterable[tuple[str, int, int, str]]:
    """Yield the planned phases that are still to come, at the times that the plan gives them now."""
    if session.closed:
        return
    current = session.phase
    began = 0 if current is None else max(now_ms, _planned_end(session, current))
    following = session.plan.phases[0] if current is None else session.plan.after(current.name)
    while following is not None:
        ended = began + round(following.minutes * 60_000)
        yield following.name, began, ended, "ahead"
        began, following = ended, session.plan.after(following.name)


def _planned_end(session: Session, span: PhaseSpan) -> int:
    planned = session.plan.phase(span.name)
    return span.began_ms + round((planned.minutes if planned else 0) * 60_000)


def _with_rows(beds: list[Bed]) -> tuple[Bed, ...]:
    """Give each phase's name a row in which no other name and no other phase's peg touches it.

    A peg goes down from the line to its name. So a name that reaches over the pegs of later phases stands
    beneath their names: the last one is highest.
    """
    placed: list[Bed] = []
    for bed in reversed(beds):
        ends = bed.x + (len(bed.name) + 1) * LETTER
        covered = [later.row for later in placed if later.x < ends]
        placed.insert(0, replace(bed, row=1 + max(covered, default=-1)))
    return tuple(placed)


def _stems(marks: tuple[Mark, ...], place_of: dict[str, float], *, grows: bool) -> Iterable[Stem]:
    newest = max(marks, key=lambda mark: int(mark.id[1:]), default=None)
    ends = {kind: [-LEAF] * ROWS for kind in Kind}
    for mark in marks:
        x, rows = place_of[mark.id], ends[mark.kind]
        # The lowest row that is free here, else the one that is free soonest.
        row = next((row for row, end in enumerate(rows) if end + LEAF <= x), rows.index(min(rows)))
        head = round(max(x, rows[row] + LEAF), 2)
        rows[row] = head
        yield Stem(mark.id, x, head, row, mark.kind, in_words(mark), grows and mark is newest)


def in_words(mark: Mark) -> str:
    """Return a mark as a line: `praise, work time, 12:05, table four`."""
    parts = [_(mark.kind), mark.phase or _("before the first phase"), minute(mark.at_ms)]
    if mark.routine:
        parts.append(mark.routine)
    if mark.scope != WHOLE_CLASS:
        parts.append(scope_words(mark.scope))
    return ", ".join(parts)
