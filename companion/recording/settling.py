"""Settling a session: what is recorded with it."""

from companion.language import _
from companion.lesson.aftercare import AwardGiven, AwardReturned
from companion.lesson.award import award_of, pieces_left
from companion.lesson.event import Body, SessionSettled
from companion.lesson.recognition import Level
from companion.lesson.session import Session
from companion.log.care import awards_out
from companion.log.store import SessionLog


def settling(log: SessionLog, session: Session, recognition: str | None) -> tuple[Body, ...]:
    """Return the events that settle `session` with the level `recognition`.

    Its object goes home with the class if a piece is left; one of an earlier settling that is not earned
    any more is back.
    """
    level = award_of(session.levels, recognition)
    given = session.award.object if session.award and session.award.is_out else ""
    if level is not None and level.object == given:
        return (SessionSettled(),)
    back: tuple[Body, ...] = (AwardReturned(),) if given else ()
    if level is None or _none_left(log, level):
        return (*back, SessionSettled())
    return (*back, AwardGiven(level.object), SessionSettled())


def _none_left(log: SessionLog, level: Level) -> bool:
    """Return whether every piece of the level's object is with a class group."""
    return pieces_left(level, (lent.object for lent in awards_out(log))) == 0


def award_words(log: SessionLog, session: Session) -> str:
    """Return what goes home with the recognition as it is now, or that none is left; "" for no object.

    Of a settled session it is what went home, though it may be back.
    """
    level, given = award_of(session.levels, session.recognition), session.award
    if level is None:
        return ""
    if given is not None and given.object == level.object and (given.is_out or session.settled):
        return _("{object} goes home with it.", object=level.object)
    if _none_left(log, level):
        holders = [lent.class_group for lent in awards_out(log) if lent.object == level.object]
        return _(
            "None left of {object}: still with {class_groups}.",
            object=level.object,
            class_groups=", ".join(holders),
        )
    return "" if session.settled else _("{object} goes home with it.", object=level.object)
