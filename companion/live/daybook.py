"""Which session the hour asks for: the one to open, and the end of the one that is open.

Pure: who asks brings the time and what the log has of the day.
"""

from collections.abc import Iterable
from datetime import datetime, timedelta

from companion.lesson.opening import Opening
from companion.lesson.place import places
from companion.lesson.session import Session
from companion.lesson.timetable import Lesson
from companion.log.summary import Summary
from companion.settings.settings import Settings

LINGER = timedelta(minutes=10)
"""A lesson of the timetable runs over by so much before the microphone is closed for it."""
LINGER_UNPLANNED = timedelta(minutes=60)


class Daybook:
    """A timetable, or none, beside what was opened by it."""

    def __init__(self, settings: Settings) -> None:
        section = settings.timetable
        self._timetable = section.timetable() if section else None
        self._by_itself = section is not None and section.opens == "clock"

    def to_open(self, now: datetime, recent: Iterable[Summary], session: Session | None) -> Opening | None:
        """Return what opens by itself: the lesson that `now` falls into, unless it was opened already.

        `session`, the one that is open, is not closed for it before its own time is over: until the end of
        the lesson that it was opened for or, where the timetable had none, for as long as its plan.
        """
        if self._timetable is None or not self._by_itself:
            return None
        due = self._timetable.due(now)
        if due is None or self._is_opened(due, recent):
            return None
        return _opening(due) if session is None or now >= self._gives_way(session) else None

    def opening_now(self, now: datetime) -> Opening | None:
        """Return the lesson that the timetable has now, or else the next one of today, early or late."""
        if self._timetable is None:
            return None
        lesson = self._timetable.due(now) or self._timetable.next_after(now)
        if not lesson or lesson.begins.date() != now.astimezone(lesson.begins.tzinfo).date():
            return None
        return _opening(lesson)

    def coming(self, now: datetime, recent: Iterable[Summary]) -> Lesson | None:
        """Return the lesson whose time it is, if no session was opened for it yet, or else the next one."""
        if self._timetable is None:
            return None
        due = self._timetable.due(now)
        return due if due and not self._is_opened(due, recent) else self._timetable.next_after(now)

    def is_over(self, session: Session, now: datetime) -> bool:
        """Whether `session` is open for longer than anybody can want to be listened to."""
        planned_end = session.opened_at + timedelta(minutes=session.plan.minutes)
        lessons = self._opened_for(session.class_group, session.opened_at)
        own = [lesson for lesson in lessons if lesson.class_group == session.class_group]
        if own:
            # A class that came late stays for its whole plan.
            return now >= max(own[-1].ends, planned_end) + LINGER
        return now >= planned_end + LINGER_UNPLANNED

    def _is_opened(self, lesson: Lesson, recent: Iterable[Summary]) -> bool:
        return any(lesson in self._opened_for(one.class_group, one.opened_at) for one in recent)

    def _gives_way(self, session: Session) -> datetime:
        lessons = self._opened_for(session.class_group, session.opened_at)
        return lessons[-1].ends if lessons else session.opened_at + timedelta(minutes=session.plan.minutes)

    def _opened_for(self, class_group: str, opened_at: datetime) -> tuple[Lesson, ...]:
        """Return the lessons that a session was opened for: its class group's, else whose place it takes.

        A teacher who opens another class group at a lesson's time has that class in the room instead.
        """
        if self._timetable is None:
            return ()
        lessons = self._timetable.lessons_on(opened_at.astimezone(self._timetable.zone).date())
        likely = [lessons[place] for place in places(lessons, class_group, opened_at)]
        return tuple(one for one in likely if one.class_group == class_group) or tuple(likely[:1])


def _opening(lesson: Lesson) -> Opening:
    return Opening(lesson.class_group, lesson.plan, lesson.room)
