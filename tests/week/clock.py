"""The time of the week, which goes on when it is told to."""

from datetime import UTC, datetime, timedelta

from tests.week.timetable import ZONE


class WeekClock:
    """A clock on the wall in the school's zone, daylight saving included, and one that is steady."""

    def __init__(self, begins: datetime) -> None:
        """Begin at `begins`."""
        self._began = begins.astimezone(UTC)
        self._began_s = self._now_s = 1_000_000.0

    def wall(self) -> datetime:
        """Return the time on the wall."""
        return (self._began + timedelta(seconds=self._now_s - self._began_s)).astimezone(ZONE)

    def steady_s(self) -> float:
        """Return the seconds that only go on."""
        return self._now_s

    def at_s(self, moment: datetime) -> float:
        """Return when it is `moment`, on the steady clock."""
        return self._began_s + (moment.astimezone(UTC) - self._began).total_seconds()

    def set_s(self, steady_s: float) -> None:
        """Let it become `steady_s`, which is not in the past."""
        self._now_s = max(self._now_s, steady_s)
