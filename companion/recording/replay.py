"""A recording goes through the same code as the microphone, only faster than real time."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import chain
from pathlib import Path

from companion.lesson.mark import Source
from companion.lesson.opening import Opening
from companion.lesson.session import Session
from companion.listening.candidate import Candidate
from companion.listening.microphone.files import blocks
from companion.listening.sound import SAMPLE_RATE
from companion.listening.spotter import Spotter
from companion.log.store import SessionLog
from companion.recording.recorder import Recorder
from companion.recording.writer import Recorded
from companion.settings.settings import Settings


@dataclass(slots=True)
class RecordingClock:
    """The time as it was while the recording was made: it goes on with the samples that were heard."""

    began: datetime
    """Wall time of the first sample."""
    samples: int = 0

    def wall(self) -> datetime:
        """Return the wall time of the next sample."""
        return self.began + timedelta(seconds=self.steady_s())

    def steady_s(self) -> float:
        """Return seconds since the first sample."""
        return self.samples / SAMPLE_RATE


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
    clock = RecordingClock(opened_at)
    recorder = Recorder(log, settings, clock)
    begins_in, plan = None, None
    if settings.session:
        begins_in, plan = settings.session.begins_in, settings.session.plan
    opening = Opening(class_group, plan)
    session = recorder.open(opening, Source.CLOCK, spotter.name, begins_in=begins_in)

    def take(candidates: list[Candidate]) -> None:
        for candidate in candidates:
            # A microphone that is paused is closed: what the recording holds after that was not heard.
            if recorder.session and not recorder.session.paused:
                recorded = recorder.candidate(session.id, candidate, zero_s=0.0)
                if recorded is not None:
                    on_recorded(recorded)

    for block in chain([first], sounds):
        clock.samples += len(block)
        take(spotter.hear(block))
        for recorded in recorder.follow_plan():
            on_recorded(recorded)
        on_heard(recorder.now_ms)
    take(spotter.finish())
    return recorder.close(Source.CLOCK) or log.session(session.id)
