"""Which session a command after the lesson is about: the one that is named, or the newest that waits."""

import click

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.day_words import day_words, hour
from companion.lesson.session import Session
from companion.log.store import SessionLog
from companion.log.summary import Summary

SHORT = 10
"""Letters of a session's name that tell it from every other: the moment of its opening, in milliseconds."""


def when_words(summary: Summary | Session) -> str:
    """Return a class group and when it came, as in `4-Hazel, Monday 14 September, 09:10`."""
    return _(
        "{class_group}, {day}, {hour}",
        class_group=summary.class_group,
        day=day_words(summary.opened_at.date()),
        hour=hour(summary.opened_at),
    )


def named_session(log: SessionLog, named: str | None) -> Session:
    """Return the session whose name begins with `named`, else the newest of the class group `named`.

    With nothing named it is the newest of all. Of a class group's sessions one that waits for its review
    comes first.

    Raises CompanionError if there is none or more than one, and for an empty name.
    """
    if named is None:
        return log.find()
    if not named.strip():
        raise CompanionError(
            _("A session is named by its class group or the beginning of its own name, and none was given."),
            safe=_("Nothing was changed."),
            remedy=_("See what there is with: companion sessions"),
        )
    group = next((name for name in log.class_groups() if name.casefold() == named.casefold()), None)
    if group is None:
        return log.find(named)
    waiting = filter(_waits, log.unsettled(group))
    return log.session(next(waiting, log.summaries(group, most=1)[0]).session)


def reviewed_session(log: SessionLog, named: str | None) -> Session:
    """Return the session that is named, else the newest that waits for its review, else the newest settled.

    What else waits is told beside it.

    Raises CompanionError for a lesson that is going on, and if there is no session.
    """
    if named is not None:
        return closed_only(named_session(log, named))
    unsettled = log.unsettled()
    waiting = list(filter(_waits, unsettled))
    if waiting:
        _tell(waiting[1:])
        return log.session(waiting[0].session)
    return _newest(log, unsettled)


def noted_session(log: SessionLog, named: str | None) -> Session:
    """Return the session that is named, else the newest lesson that is over: settled just now, or waiting.

    Raises CompanionError as `reviewed_session` does.
    """
    if named is not None:
        return closed_only(named_session(log, named))
    unsettled, over = log.unsettled(), log.newest_over()
    if over is None:
        return _newest(log, unsettled)
    _tell([summary for summary in filter(_waits, unsettled) if summary.session != over.session])
    return log.session(over.session)


def newest_settled(log: SessionLog) -> Session:
    """Return the newest session that is settled. Raises CompanionError if none is."""
    if settled := log.newest_over(settled=True):
        return log.session(settled.session)
    raise CompanionError(_("No session is settled."), safe=_("Nothing was changed."))


def closed_only(session: Session) -> Session:
    """Return `session` if its lesson is over; raise CompanionError if it is going on."""
    if session.closed or session.settled:
        return session
    raise CompanionError(
        _("The lesson of {lesson}, is still open.", lesson=when_words(session)),
        safe=_("It goes on, and nothing in it was changed."),
        remedy=_("Close it first, with: companion close"),
    )


def _newest(log: SessionLog, unsettled: list[Summary]) -> Session:
    """Return the newest session where none waits. Raises CompanionError if a lesson is going on."""
    for summary in unsettled:
        if not summary.closed:
            return closed_only(log.session(summary.session))
    return log.find()


def _waits(summary: Summary) -> bool:
    return summary.closed and not summary.settled


def _tell(others: list[Summary]) -> None:
    for summary in others:
        click.echo(
            _(
                "Also waiting for its review: {lesson} ({session})",
                lesson=when_words(summary),
                session=summary.session[:SHORT],
            ),
            err=True,
        )
