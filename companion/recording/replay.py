"""A recording goes through the same code as the microphone, only faster than real time."""

from collections.abc import Callable
from datetime import datetime, timedelta
from itertools import chain
from pathlib import Path

from companion.lesson.event import SessionOpened
from companion.lesson.mark import Source
from companion.lesson.plan_clock import phase_due
from companion.lesson.session import Session
from companion.listening.candidate import Candidate
from companion.listening.microphone.files import blocks
from companion.listening.sound import SAMPLE_RATE
from companion.listening.spotter import Spotter
from companion.log.care import waiting_for
from companion.log.store import SessionLog
from companion.recording.writer import Recorded, SessionWriter
from companion.settings.settings import Settings


def replay(
    sound: Path,
    settings: Settings,
    spotter: Spotter,
    log: SessionLog,
    *,
    class_group: str,
    opened_at: datetime,
    on_heard: Callable[[int], None] = lambda _: None,
    on_recorded: Callable[[Recorded], None] = lambda _: None,
    warn: Callable[[str], None] | None = None,
) -> Session:
    """Play the recording `sound` through `spotter` into a new session of `log` and return the session.

    opened_at: the wall time of the recording's first sample. on_heard: called with the milliseconds
    heard so far. on_recorded: called after each command or near miss is durable. warn: called with one
    sentence when the file breaks off.

    Raises CompanionError for a sound file that can't be read; nothing is recorded if its beginning
    can't be.
    """
    sounds = blocks(sound, warn=warn)
    first = next(sounds)
    plan = settings.plan(settings.session.plan if settings.session else None)
    commands = settings.commands_in(plan)
    heard_ms = 0

    def clock() -> datetime:
        return opened_at + timedelta(milliseconds=heard_ms)

    opened = SessionOpened(
        class_group=class_group,
        plan=plan,
        levels=settings.levels_table(),
        tables=settings.school.tables,
        room=settings.school.room,
        engine=spotter.name,
        waiting=waiting_for(log, class_group),
    )
    begins_in = settings.session.begins_in if settings.session else None
    writer = SessionWriter.open(log, opened, clock, begins_in=begins_in)

    def take(candidates: list[Candidate]) -> None:
        for candidate in candidates:
            # A microphone that is paused is closed: what the recording holds after that was not heard.
            if not writer.session.paused:
                on_recorded(writer.candidate(candidate, commands))

    samples = 0
    for block in chain([first], sounds):
        samples += len(block)
        heard_ms = samples * 1000 // SAMPLE_RATE
        take(spotter.hear(block))
        while due := phase_due(writer.session, heard_ms):
            on_recorded(Recorded(writer.append(due, now_ms=heard_ms), (due,)))
        on_heard(heard_ms)
    take(spotter.finish())
    return writer.close(at_ms=heard_ms, source=Source.CLOCK)
