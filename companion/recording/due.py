"""What is to be forgotten by now, and what a board tells of it."""

from datetime import datetime, timedelta

from companion.lesson.counting import how_many
from companion.log.forget import forgotten_since
from companion.log.store import SessionLog
from companion.settings.keeping import NOTICE_DAYS
from companion.settings.settings import Settings


def due_sessions(log: SessionLog, settings: Settings, now: datetime) -> list[str]:
    """Return the sessions that are to go by `now`."""
    return [
        summary.session
        for summary in log.summaries()
        if (day := settings.keeping.session_goes(summary.opened_at.date(), settings.timetable))
        and day <= now.date()
    ]


def told(log: SessionLog, settings: Settings, now: datetime) -> list[str]:
    """Return what a board tells of forgetting: what went since yesterday, and what will go soon."""
    sentences = [
        f"Forgotten for good on {one.at:%A %d %B}: {one.words}."
        for one in forgotten_since(log, now - timedelta(days=1))
    ]
    due = {*due_sessions(log, settings, now)}
    soon = [one for one in due_sessions(log, settings, now + timedelta(days=NOTICE_DAYS)) if one not in due]
    if soon:
        sentences.append(
            f"{how_many(len(soon), 'session')} of a school year that is over will be forgotten within "
            f'{NOTICE_DAYS} days. Keep them: sessions = "always" in [keeping] of the settings.'
        )
    return sentences
