"""Days and hours in words, as the language that is spoken writes them."""

from datetime import date, datetime, timedelta

from companion.language import _, later

HALF_A_YEAR = timedelta(days=183)
WEEKDAYS = (
    later("Monday"),
    later("Tuesday"),
    later("Wednesday"),
    later("Thursday"),
    later("Friday"),
    later("Saturday"),
    later("Sunday"),
)
SHORT_WEEKDAYS = (
    later("Mon"),
    later("Tue"),
    later("Wed"),
    later("Thu"),
    later("Fri"),
    later("Sat"),
    later("Sun"),
)
MONTHS = (
    later("January"),
    later("February"),
    later("March"),
    later("April"),
    later("May"),
    later("June"),
    later("July"),
    later("August"),
    later("September"),
    later("October"),
    later("November"),
    later("December"),
)
SHORT_MONTHS = (
    later("Jan"),
    later("Feb"),
    later("Mar"),
    later("Apr"),
    later("May"),
    later("Jun"),
    later("Jul"),
    later("Aug"),
    later("Sep"),
    later("Oct"),
    later("Nov"),
    later("Dec"),
)


def weekday(day: date) -> str:
    """Return the name of the day of the week: `Saturday`."""
    return _(WEEKDAYS[day.weekday()])


def short_weekday(day: date) -> str:
    """Return the name of the day of the week in short: `Sat`."""
    return _(SHORT_WEEKDAYS[day.weekday()])


def day_words(day: date) -> str:
    """Return a day of this year: `Saturday 28 November`."""
    return _("{weekday} {day} {month}", weekday=weekday(day), day=day.day, month=_(MONTHS[day.month - 1]))


def year_day(day: date) -> str:
    """Return a day of any year: `Saturday 28 November 2026`."""
    return _(
        "{weekday} {day} {month} {year}",
        weekday=weekday(day),
        day=day.day,
        month=_(MONTHS[day.month - 1]),
        year=day.year,
    )


def near_day(day: date, today: date) -> str:
    """Return a day in words, with its year if it is so far from today that it could be of two years."""
    return day_words(day) if abs(day - today) < HALF_A_YEAR else year_day(day)


def date_words(day: date) -> str:
    """Return a day of any year without its weekday: `28 November 2026`."""
    return _("{day} {month} {year}", day=day.day, month=_(MONTHS[day.month - 1]), year=day.year)


def short_day(day: date) -> str:
    """Return a day of this year in short: `Sat 28 Nov`."""
    return _(
        "{short_weekday} {day} {short_month}",
        short_weekday=_(SHORT_WEEKDAYS[day.weekday()]),
        day=day.day,
        short_month=_(SHORT_MONTHS[day.month - 1]),
    )


def short_year_day(day: date) -> str:
    """Return a day of any year in short: `Sat 28 Nov 2026`."""
    return _(
        "{short_weekday} {day} {short_month} {year}",
        short_weekday=_(SHORT_WEEKDAYS[day.weekday()]),
        day=day.day,
        short_month=_(SHORT_MONTHS[day.month - 1]),
        year=day.year,
    )


def short_month(day: date) -> str:
    """Return the month of a day in short: `Nov 2026`."""
    return _("{short_month} {year}", short_month=_(SHORT_MONTHS[day.month - 1]), year=day.year)


def month_day(day: date) -> str:
    """Return a day of this year without its weekday, in short: `28 Nov`."""
    return _("{day} {short_month}", day=day.day, short_month=_(SHORT_MONTHS[day.month - 1]))


def hour(at: datetime) -> str:
    """Return the hour of a moment: `14:05`."""
    return f"{at:%H:%M}"
