"""The day on one board: each lesson with its steps, done or open, and the next thing to do."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from companion.language import later
from companion.lesson.place import places
from companion.lesson.session import Session
from companion.lesson.timetable import Lesson


class AfterLesson(StrEnum):
    """A step after the lesson, in this order."""

    REVIEWED = later("reviewed")
    REFLECTED = later("reflected")
    SETTLED = later("settled")
    NOTE = later("note handed over")
    NEXT_TIME = later("next time noted")


class Next(StrEnum):
    """The next thing to do for a lesson."""

    OPEN = "open"
    LIVE = "live"
    REVIEW = "review"
    PRIVATE_NOTES = "private notes"
    REFLECTION = "reflection"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class BoardLesson:
    """A lesson of the day, from the timetable or as it was held."""

    begins: datetime
    class_group: str
    lesson: Lesson | None = None
    """As it stands in the timetable; None for one that was held without standing there."""
    session: Session | None = None
    """As it was held; None for one that is to come or was not held."""

    @property
    def steps(self) -> tuple[tuple[AfterLesson, bool], ...]:
        """The steps after the lesson and whether each is done; none before it is over."""
        session = self.session
        if session is None or not session.closed:
            return ()
        done = {
            # What was not answered before the count was settled can't be any more.
            AfterLesson.REVIEWED: not session.unreviewed and (session.settled or not unanswered(session)),
            AfterLesson.REFLECTED: session.self_rating is not None or bool(session.teacher_view),
            AfterLesson.SETTLED: session.settled,
            AfterLesson.NOTE: session.handed_over is not None and not session.changed_since_handed_over,
            AfterLesson.NEXT_TIME: bool(session.carry_over),
        }
        return tuple((step, done[step]) for step in AfterLesson)

    def next(self, now: datetime) -> Next | None:  # noqa: PLR0911 - one case a step
        """Return the next thing to do; None when all is done, or for a lesson that was not held."""
        session = self.session
        if session is None:
            return None if self.lesson is None or self.lesson.ends <= now else Next.OPEN
        if not session.closed:
            return Next.LIVE
        if not session.settled and is_empty(session):
            return None
        if not session.settled and (session.unreviewed or unanswered(session)):
            return Next.REVIEW
        if unfinished(session):
            return Next.PRIVATE_NOTES
        if not session.settled:
            return Next.REFLECTION
        handed_over = session.handed_over is not None and not session.changed_since_handed_over
        return None if handed_over else Next.NOTE


def unanswered(session: Session) -> int:
    """Return how many near misses of marks the review has not answered."""
    return sum(miss.kind is not None and not miss.answered for miss in session.near_misses)


def unfinished(session: Session) -> int:
    """Return how many individual notes name no child yet."""
    return sum(not note.complete for note in session.notes)


def to_look_at(session: Session) -> int:
    """Return how many marks, near misses and individual notes wait for a look."""
    return len(session.unreviewed) + unanswered(session) + unfinished(session)


def is_empty(session: Session) -> bool:
    """Return whether a lesson holds nothing that a review or a reflection could be about."""
    return not (session.standing or session.notes or unanswered(session))


def board_of(lessons: Sequence[Lesson], sessions: Iterable[Session]) -> tuple[BoardLesson, ...]:
    """Return the lessons of a day in order of time.

    lessons: those of the timetable. sessions: those that were held, each for the lesson of its class group
    whose time it is, else for one that nobody else was opened for; or for none.
    """
    held: dict[int, Session] = {}
    beside: list[Session] = []
    ordered = sorted(sessions, key=lambda session: session.opened_at)
    for session in sorted(ordered, key=lambda one: not _own(lessons, one)):
        likely = places(lessons, session.class_group, session.opened_at)
        if free := [place for place in likely if place not in held]:
            held[free[0]] = session
        else:
            beside.append(session)
    rows = [
        BoardLesson(
            lesson.begins,
            held[place].class_group if place in held else lesson.class_group,
            lesson,
            held.get(place),
        )
        for place, lesson in enumerate(lessons)
    ]
    rows += [BoardLesson(session.opened_at, session.class_group, None, session) for session in beside]
    return tuple(sorted(rows, key=lambda row: row.begins.timestamp()))


def _own(lessons: Sequence[Lesson], session: Session) -> bool:
    near = places(lessons, session.class_group, session.opened_at)
    return any(lessons[place].class_group == session.class_group for place in near)
