"""A recording goes through the same recorder, on its own clock."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from companion.lesson.event import Body
from companion.listening.candidate import Candidate
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.log.store import SessionLog
from companion.recording.replay import replay
from companion.settings.settings import parse_settings
from tests.school_day import EIGHT, SETTINGS, settings


class Scripted:
    """A spotter that finds what it was told, each when so much sound was heard, and the rest at the end."""

    name = "scripted"

    def __init__(self, *found: Candidate) -> None:
        self.found = list(found)
        self.heard = 0

    def hear(self, block: Sound) -> list[Candidate]:
        """Return what is decided by now."""
        self.heard += len(block)
        due = [one for one in self.found if one.decided_ms * SAMPLE_RATE <= self.heard * 1000]
        self.found = [one for one in self.found if one not in due]
        return due

    def finish(self) -> list[Candidate]:
        """Return what is left."""
        return self.found


def said(phrase: str, begin_ms: int, decided_ms: int, *, fired: bool = True) -> Candidate:
    """Return a phrase as a spotter gives it."""
    return Candidate(phrase, begin_ms, begin_ms + 500, decided_ms, 0.9, fired, "scripted")


@pytest.fixture
def sound(tmp_path: Path) -> Path:
    """Give ten seconds of silence."""
    path = tmp_path / "lesson.flac"
    soundfile.write(path, np.zeros(10 * SAMPLE_RATE, np.int16), SAMPLE_RATE)
    return path


def test_what_is_heard_is_recorded_at_its_own_time_until_the_recording_ends(
    sound: Path, log: SessionLog
) -> None:
    """Also what the spotter decides only at the end; the session is over then."""
    spotter = Scripted(
        said("lovely teamwork", 1_000, 2_000),
        said("gentle reminder", 5_000, 6_000, fired=False),
        said("no phrase of ours", 7_000, 8_000),
        said("lovely teamwork", 9_500, 20_000),
    )
    bodies: list[Body] = []
    heard: list[int] = []
    session = replay(
        sound,
        settings(),
        spotter,
        log,
        class_group="4-Hazel",
        opened_at=EIGHT,
        on_heard=heard.append,
        on_recorded=lambda recorded: bodies.extend(recorded.bodies),
    )
    assert [mark.at_ms for mark in session.marks] == [1_000, 9_500]
    assert [miss.at_ms for miss in session.near_misses] == [5_000]
    assert (session.opened_at, session.closed_ms, session.engine) == (EIGHT, 10_000, "scripted")
    assert session == log.session(session.id)
    assert (len(bodies), len(heard), heard[-1]) == (3, 100, 10_000)
    assert log.events(session.id)[2].at.timestamp() == EIGHT.timestamp() + 2


def test_after_a_pause_nothing_of_the_recording_was_heard(sound: Path, log: SessionLog) -> None:
    """A microphone that is closed hears no praise."""
    spotter = Scripted(said("microphone off", 1_000, 2_000), said("lovely teamwork", 5_000, 6_000))
    session = replay(sound, settings(), spotter, log, class_group="4-Hazel", opened_at=EIGHT)
    assert (session.praise, session.paused, len(session.pauses)) == (0, False, 1)


def test_the_plans_clock_goes_on_with_the_recording(sound: Path, log: SessionLog) -> None:
    """And the settings of a sample say in which phase it begins."""
    text = SETTINGS.replace('name = "arrival", minutes = 5', 'name = "arrival", minutes = 0.1')
    moved: list[Body] = []
    session = replay(
        sound,
        parse_settings(text, "test.toml"),
        Scripted(),
        log,
        class_group="4-Hazel",
        opened_at=EIGHT,
        on_recorded=lambda recorded: moved.extend(recorded.bodies),
    )
    assert [(span.name, span.began_ms) for span in session.phases] == [("arrival", 0), ("work time", 6_000)]
    assert len(moved) == 1
    begins = parse_settings(
        SETTINGS + '[session]\nclass_group = "4-Hazel"\nbegins_in = "cleanup"\n', "test.toml"
    )
    session = replay(sound, begins, Scripted(), log, class_group="4-Hazel", opened_at=EIGHT)
    assert [span.name for span in session.phases] == ["cleanup"]
