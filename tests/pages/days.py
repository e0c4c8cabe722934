"""A day of lessons of Alder Lane School as the board shows it, on a clock that a test turns."""

from datetime import date, datetime, timedelta
from pathlib import Path

from companion.lesson import aftercare
from companion.lesson import event as ev
from companion.lesson.aftercare import HandOver
from companion.lesson.mark import FamilyContact, Kind, NoteKind, Source
from companion.lesson.recognition import Level
from companion.lesson.session import Session
from companion.lesson.timetable import Lesson
from companion.log.care import waiting_for
from companion.log.store import SessionLog, open_log
from companion.pages.port import Choice, LogPort
from tests.pages.lessons import PLAN
from tests.school_day import CLASSES, HandClock
from tests.school_day import settings as school_settings

LEVELS = (Level("Full Basket", 4, "the brass can", 1), Level("Half Basket", 2), Level("First Sprout", 0))
CLOSED = ev.SessionClosed(2_700_000, Source.KEY)


class DayPort(LogPort):
    """The port of a companion with a timetable, over the log alone."""

    def __init__(self, log: Path, clock: HandClock) -> None:
        """Follow `clock`."""
        super().__init__(log, clock.wall)
        self._wall = clock.wall

    def today(self) -> tuple[Lesson, ...]:
        """Return the six lessons of a Monday."""
        section = school_settings(timetable=True).timetable
        assert section is not None
        timetable = section.timetable()
        return timetable.lessons_on(self._wall().astimezone(timetable.zone).date())

    def choice(self) -> Choice:
        """Offer the lesson whose time it is, or the next one."""
        coming = next((lesson for lesson in self.today() if lesson.ends > self._wall()), None)
        return Choice(("garden",), tuple(CLASSES.values()), coming, "an apron and dry boots")


def marked(praise: int, reminder: int = 0, *, routine: str | None = None) -> tuple[ev.Body, ...]:
    """Return so many marks by key, one a minute."""
    kinds = [Kind.PRAISE] * praise + [Kind.REMINDER] * reminder
    return tuple(
        ev.MarkMade(kind, 60_000 * at, Source.KEY, routine=routine) for at, kind in enumerate(kinds, start=1)
    )


def kept(praise: int) -> tuple[ev.Body, ...]:
    """Return what the review says when it keeps so many first marks of a session."""
    return tuple(ev.MarkKept(f"m{seq}") for seq in range(3, 3 + praise))


def hold(log: SessionLog, group: str, opened_at: datetime, *bodies: ev.Body) -> Session:
    """Hold a lesson with `bodies`, each at its own time."""
    opened = ev.SessionOpened(group, PLAN, LEVELS, waiting=waiting_for(log, group))
    session = log.open_session(opened, opened_at)
    for body in (ev.PhaseBegan(PLAN.phases[0].name, 0, Source.CLOCK), *bodies):
        offset_ms = max(session.last_ms, getattr(body, "at_ms", 0) or 0)
        at = opened_at + timedelta(milliseconds=offset_ms)
        session = log.append(session.id, body, at=at, offset_ms=offset_ms)
    return session


def contact(due: date) -> FamilyContact:
    """Return a family contact that was planned."""
    return FamilyContact("the teacher", "phone", due=due)


def whole_day(path: Path, eight: datetime) -> dict[str, Session]:
    """Write a day: settled, to reflect, to review, empty, one that goes on; and what is left from before."""
    today = eight.date()
    note = ev.NoteOpened(NoteKind.HEALTH_OFFICE, 600_000, Source.KEY)
    with open_log(path) as log:
        before = hold(
            log,
            "6-Alder",
            eight - timedelta(days=3),
            *marked(5),
            *kept(5),
            note,
            ev.NoteCompleted(
                "n13", "K. T.", NoteKind.HEALTH_OFFICE, "a splinter", contact(today - timedelta(days=1))
            ),
            CLOSED,
            ev.CarryOverWritten("Tools by the handle."),
            aftercare.AwardGiven("the brass can"),
            ev.SessionSettled(),
        )
        settled = hold(
            log,
            "4-Hazel",
            eight,
            *marked(4, 1, routine="tools back"),
            *kept(5),
            note,
            ev.NoteCompleted("n13", "S. L.", NoteKind.PEER_CONFLICT, "", contact(today)),
            CLOSED,
            ev.SelfRated("went well", (14, 3, 1)),
            ev.CarryOverWritten("Close the tap."),
            ev.SessionSettled(),
            aftercare.NoteHandedOver(HandOver.PRINTED),
        )
        reflect = hold(log, "2-Birch", eight + timedelta(minutes=45), *marked(3, 1), *kept(4), CLOSED, note)
        review = hold(log, "5-Oak", eight + timedelta(minutes=105), *marked(6, 2), CLOSED)
        empty = hold(log, "7-Rowan", eight + timedelta(minutes=148), CLOSED)
        live = hold(log, "K-Fir", eight + timedelta(minutes=151), *marked(2))
    return {
        "before": before,
        "settled": settled,
        "reflect": reflect,
        "review": review,
        "empty": empty,
        "live": live,
    }
