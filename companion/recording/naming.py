"""Saying afterwards which class group came: what that changes in a session."""

from companion.lesson import event as ev
from companion.lesson.mark import Source
from companion.lesson.opening import UNPLANNED
from companion.lesson.session import Session
from companion.log.care import waiting_for
from companion.log.store import SessionLog
from companion.settings.settings import Settings


def naming(  # noqa: PLR0917 - what is known, what is wanted, and who wants it
    log: SessionLog,
    settings: Settings,
    session: Session,
    class_group: str,
    plan: str | None,
    now_ms: int,
    source: Source,
) -> tuple[ev.Body, ...]:
    """Return the events that make `session` one of `class_group`, by the plan called `plan` if one is given.

    A lesson that is going on is told what was left unsaid with that class. If its phase is none of the new
    plan, it begins that plan at its first phase.

    Raises CompanionError if the settings have no such plan.
    """
    class_group = " ".join(class_group.split())
    told = session.waiting
    if not session.closed and class_group != session.class_group:
        told = waiting_for(log, class_group)
    other = session.plan if plan is None else settings.plan(plan)
    named = ev.ClassGroupNamed(class_group, other if other != session.plan else None, waiting=told)
    if session.closed or session.phase is None or other.phase(session.phase.name):
        return (named,)
    return (named, ev.PhaseBegan(other.phases[0].name, now_ms, source))


def known_class_groups(log: SessionLog, settings: Settings) -> list[str]:
    """Return the class groups of timetable and log, in the order of the alphabet."""
    planned = {lesson.class_group for lesson in settings.timetable.lessons} if settings.timetable else set()
    return sorted((planned | set(log.class_groups())) - {UNPLANNED})
