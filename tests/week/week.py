"""A school's week on one computer, day by day."""

from collections import Counter
from collections.abc import Callable, Iterator
from datetime import date, datetime, time, timedelta
from functools import partial
from itertools import zip_longest

from companion.lesson.timetable import Lesson
from companion.log.damage import damages
from companion.log.store import open_log
from companion.paths import Home
from tests.week.after import Afterwards
from tests.week.browser import Browser
from tests.week.clock import WeekClock
from tests.week.lesson import FAULTS, HeldLesson
from tests.week.room import OPENS_WITHIN_S, Room
from tests.week.timetable import FIRST, LAST, ZONE, settings, text
from tests.week.truth import Truth

MORNING, EVENING = time(7, 40), time(16, 30)


class Week:
    """The days from `first` to `last` with one companion, started each morning and ended each evening."""

    def __init__(self, home: Home, marks: int, first: date = FIRST, last: date = LAST) -> None:
        """Make ready. marks: by each way in each lesson, beside those that faults and phases bring."""
        home.settings.write_text(text(), encoding="utf-8")
        self._home = home
        self._marks = marks
        self._first, self._last = first, last
        section = settings().timetable
        assert section is not None
        self._timetable = section.timetable()
        self._room = Room(home, WeekClock(datetime.combine(first, MORNING, ZONE)))
        self._browser = Browser(self._room)
        self._afterwards = Afterwards(self._room, self._browser)
        self._held = 0

    @property
    def troubles(self) -> list[str]:
        """What must not be, in words."""
        return self._afterwards.troubles

    def days(self) -> Iterator[tuple[date, Counter[str]]]:
        """Hold each day, and yield its figures."""
        day = self._first
        while day <= self._last:
            before = self._afterwards.figures.copy()
            self._room.clock.set_s(self._room.clock.at_s(datetime.combine(day, MORNING, ZONE)))
            self._room.start()
            helped = self._hold(self._timetable.lessons_on(day))
            self._room.go_to(datetime.combine(day, EVENING, ZONE))
            self._room.stop()
            figures = self._afterwards.figures - before
            figures["helped"] = helped
            yield day, figures
            day += timedelta(days=1)
        self._browser.close()
        self._check()

    def _hold(self, lessons: tuple[Lesson, ...]) -> int:
        """Hold the lessons of a day; each is looked at in the next, or in the pause behind it."""
        waiting: Truth | None = None
        helped = 0
        for lesson, following in zip_longest(lessons, lessons[1:]):
            self._room.go_to(lesson.begins + timedelta(seconds=OPENS_WITHIN_S))
            held = HeldLesson(self._room, self._browser, lesson, self._held)
            self._afterwards.say_carry_over(held.truth)
            touches = following is not None and following.begins == lesson.ends
            held.hold(
                FAULTS[self._held % len(FAULTS)],
                self._marks,
                then=self._work_on(waiting),
                runs_over=touches and self._held % 2 == 0,
            )
            self._held += 1
            helped += held.helped
            waiting = held.truth
            if not touches:
                self._browser.press(f"live/{held.truth.session}", do="close")
                self._work_on(waiting)()
                waiting = None
        return helped

    def _work_on(self, truth: Truth | None) -> Callable[[], None]:
        return partial(self._afterwards.work, truth) if truth else lambda: None

    def _check(self) -> None:
        """Look through the log as a whole."""
        self.troubles.extend(damage.words for damage in damages(self._home.log))
        with open_log(self._home.log) as log:
            opened = sorted((one.opened_at, one.class_group) for one in log.summaries())
        due = [
            (lesson.begins, lesson.class_group)
            for count in range((self._last - self._first).days + 1)
            for lesson in self._timetable.lessons_on(self._first + timedelta(days=count))
        ]
        if [group for _, group in opened] != [group for _, group in due]:
            self.troubles.append(f"opened {opened}, due {due}")
        late = [
            group for (at, group), (begins, _) in zip(opened, due, strict=False) if not timely(at, begins)
        ]
        if late:
            self.troubles.append(f"opened at another time than the timetable's: {late}")


def timely(opened_at: datetime, begins: datetime) -> bool:
    """Whether a session was opened when its lesson began."""
    return timedelta(0) <= opened_at - begins <= timedelta(seconds=OPENS_WITHIN_S)
