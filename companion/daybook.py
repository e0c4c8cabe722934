"""Which session the hour asks for: the one to open, and the end of the one that is open.

Pure: who asks brings the time, the timetable and what the log has of the day.
"""

from collections.abc import Iterable
from datetime import datetime, timedelta

from companion.lesson.session import Session
from companion.lesson.timetable import Lesson, Timetable
from companion.log.summary import Summary

EARLY = timedelta(minutes=15)
"""A class that was opened by hand so long before its time was opened for that lesson."""
LINGER = timedelta(minutes=10)
"""A lesson of the timetable runs over by so much before the microphone is closed for it."""
LINGER_UNPLANNED = timedelta(minutes=60)


def lesson_to_open(timetable: Timetable, now: datetime, recent: Iterable[Summary]) -> Lesson | None:
    """Return the lesson that `now` falls into, unless a session of `recent` was opened for it."""
    due = timetable.due(now)
    if due is None or any(_was_for(due, summary.class_group, summary.opened_at) for summary in recent):
        return None
    return due


def is_over(timetable: Timetable | None, session: Session, now: datetime) -> bool:
    """Whether `session` is open for longer than anybody can want to be listened to."""
    on = session.opened_at
    lessons = timetable.lessons_on(on.astimezone(timetable.zone).date()) if timetable else ()
    planned = next((lesson for lesson in lessons if _was_for(lesson, session.class_group, on)), None)
    if planned is not None:
        return now >= planned.ends + LINGER
    return now >= on + timedelta(minutes=session.plan.minutes) + LINGER_UNPLANNED


def _was_for(lesson: Lesson, class_group: str, opened_at: datetime) -> bool:
    return lesson.class_group == class_group and lesson.begins - EARLY <= opened_at < lesson.ends
