"""What is to be forgotten by now, and what a board tells of it."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from companion.language import _, many
from companion.lesson.day_words import day_words
from companion.log.forget import amount, forgotten_since
from companion.log.store import SessionLog
from companion.settings.keeping import NOTICE_DAYS
from companion.settings.settings import Settings


def due_sessions(log: SessionLog, settings: Settings, now: datetime) -> list[str]:
    """Return the sessions that are to go by `now`."""
    days = {day for day, goes in _going(log.days(), settings).items() if goes <= now.date()}
    return [one.session for one in log.summaries() if one.opened_at.date() in days] if days else []


def _going(days: Iterable[date], settings: Settings) -> dict[date, date]:
    """Return from which day on the sessions of each of `days` are to go; those that never do are left out."""
    goes = {day: settings.keeping.session_goes(day, settings.timetable) for day in days}
    return {day: gone for day, gone in goes.items() if gone is not None}


def told(log: SessionLog, settings: Settings, now: datetime) -> list[str]:
    """Return what a board tells of forgetting: what went since yesterday, and what will go soon."""
    went: dict[tuple[str, str], int] = {}
    for one in forgotten_since(log, now - timedelta(days=1)):
        day = day_words(one.at)
        went[day, one.what] = went.get((day, one.what), 0) + one.count
    sentences = [
        _("Forgotten for good on {day}: {what}.", day=day, what=amount(what, count))
        for (day, what), count in went.items()
    ]
    opened = log.days(settings.keeping.oldest(now.date(), settings.timetable))
    noticed = now.date() + timedelta(days=NOTICE_DAYS)
    going = _going(opened, settings)
    if soon := sum(opened[day] for day, goes in going.items() if now.date() < goes <= noticed):
        sentences.append(
            many(
                "{count} session of a school year that is over will be forgotten within {days} days. "
                "Keep them: {setting} in [keeping] of the settings.",
                "{count} sessions of a school year that is over will be forgotten within {days} days. "
                "Keep them: {setting} in [keeping] of the settings.",
                soon,
                days=NOTICE_DAYS,
                setting='sessions = "always"',
            )
        )
    return sentences
