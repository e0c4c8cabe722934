"""A lesson to its settling, in which something of every kind happens, each where the session can take it."""

from collections.abc import Callable
from datetime import date

from companion.lesson import aftercare as care
from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import FamilyContact, Kind, NoteKind, Source
from companion.lesson.session import Session

Step = Callable[[Session], ev.Body]
"""Makes an event of the session as it is by then."""
PAGE, DAY = Source.PAGE, date(2026, 9, 15)
CONTACT = FamilyContact("me", "by telephone", due=DAY)
HEARD = ev.NearMissHeard("lovely teamwork", 1, 0.4, Command(Action.PRAISE))
OTHER = ev.NoteOpened(NoteKind.OTHER, 1, PAGE)


def _mark(session: Session) -> str:
    return session.standing[0].id


def _note(session: Session) -> str:
    return session.notes[-1].id


def _completed(session: Session) -> ev.Body:
    return ev.NoteCompleted(_note(session), "K. T.", NoteKind.OTHER, contact=CONTACT)


EVERY_KIND: tuple[ev.Body | Step, ...] = (
    ev.ClassGroupNamed("2-Birch"),
    ev.PhaseBegan("work time", 1, PAGE),
    ev.AskedAgain(Command(Action.NEXT_PHASE), 1, PAGE),
    ev.MarkMade(Kind.PRAISE, 1, PAGE, held=True),
    lambda session: ev.MarkDoubled(_mark(session), 1, PAGE),
    lambda session: ev.MarksTold((_mark(session),), 1, PAGE),
    lambda session: ev.MarkKept(_mark(session)),
    lambda session: ev.MarkChanged(_mark(session), Kind.REMINDER),
    lambda session: ev.EventTakenBack(session.steps[-1][0]),
    lambda session: ev.MarkDropped(_mark(session)),
    lambda session: ev.MarkRestored(session.marks[0].id),
    ev.MarkAdded(Kind.PRAISE, "arrival"),
    HEARD,
    lambda session: ev.NearMissConfirmed(session.near_misses[-1].id, Kind.PRAISE),
    HEARD,
    lambda session: ev.NearMissDismissed(session.near_misses[-1].id),
    OTHER,
    _completed,
    lambda session: care.PromiseMoved(_note(session), DAY),
    lambda session: care.PromiseKept(_note(session), DAY),
    OTHER,
    _completed,
    lambda session: care.PromiseDropped(_note(session), "moved away"),
    lambda session: ev.NoteDropped(_note(session)),
    ev.UndoAsked(1, PAGE),
    ev.LastTakenBack((), 1, PAGE),
    ev.ListeningPaused(1, PAGE),
    ev.ListeningResumed(1, PAGE),
    ev.HearingLost(1, "muted"),
    ev.HearingRegained(1),
    ev.CompanionRestarted(1, 1),
    ev.SelfRated("went well"),
    ev.TeacherViewed("A calm start."),
    ev.RecognitionOverruled(None, "a visitor"),
    ev.CarryOverWritten("Close the tap."),
    ev.CarryOverSaid(),
    care.CarryOverDropped("01ARZ3NDEKTSV4RRFFQ69G5FAV"),
    care.CarryOverMoved("01ARZ3NDEKTSV4RRFFQ69G5FAV", "5-Oak"),
    care.AwardGiven("the watering can"),
    care.AwardReturned(),
    care.AwardBroughtBack("01ARZ3NDEKTSV4RRFFQ69G5FAV"),
    care.RoutineTaughtAgain("arrival"),
    care.SessionTaught(by_guest=True),
    care.SessionTaught(by_guest=False),
    care.NoteHandedOver(care.HandOver.GIVEN),
    ev.SessionClosed(1, PAGE),
    ev.SessionSettled(),
    ev.SessionReopened("a mark was missed"),
)
"""All that comes after a session was opened."""
