"""`[keeping]`: how long the log keeps what is about children."""

from datetime import date, datetime, timedelta
from typing import Annotated, Literal

from pydantic import Field, StringConstraints, field_validator

from companion.language import _
from companion.settings.section import Section
from companion.settings.timetable import TimetableSection

GRACE_DAYS = 60
"""Whole sessions stay so long after the last day of their school year."""
COMMON_YEAR = 2027
NOTICE_DAYS = 30
"""So long before they go, it is told."""


class KeepingSection(Section):
    """`[keeping]` of the settings file. School policy and local law may ask for less, or for more."""

    individual_notes_days: int = Field(60, ge=1, le=3650)
    """Days after the lesson on which an individual note is taken out for good."""
    sessions: Literal["school year", "always"] = "school year"
    """Whether whole sessions go some weeks after their school year, or never by themselves."""
    school_year_ends: Annotated[str, StringConstraints(pattern=r"^\d\d-\d\d$")] = "07-31"
    """Month and day, where no timetable says when the school year ends."""

    @field_validator("school_year_ends")
    @classmethod
    def _is_a_day(cls, text: str) -> str:
        try:
            date(COMMON_YEAR, *map(int, text.split("-")))
        except ValueError:
            msg = _("'{text}' is no day of every year; write month and day, as in 07-31", text=text)
            raise ValueError(msg) from None
        return text

    def notes_before(self, now: datetime) -> datetime:
        """Return the moment before which individual notes are to go."""
        return now - timedelta(days=self.individual_notes_days)

    def oldest(self, today: date, timetable: TimetableSection | None) -> date:
        """Return a day before which no session was opened that is not to go by `today`, where any go."""
        year_before = today - timedelta(days=366 + GRACE_DAYS)
        return min(year_before, timetable.begins) if timetable else year_before

    def session_goes(self, opened: date, timetable: TimetableSection | None) -> date | None:
        """Return the day from which on a session of the day `opened` is to go; None: never."""
        if self.sessions == "always":
            return None
        if timetable and timetable.begins <= opened <= timetable.ends:
            return timetable.ends + timedelta(days=GRACE_DAYS)
        month, day = map(int, self.school_year_ends.split("-"))
        ends = date(opened.year, month, day)
        ends = ends if opened <= ends else date(opened.year + 1, month, day)
        return ends + timedelta(days=GRACE_DAYS)
