"""A whole companion in a real lesson: sound into a microphone, a hand on the keyboard, a pulled plug."""

import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from companion.lesson.event import MarkDoubled, MarkMade
from companion.lesson.mark import Source
from companion.lesson.scoring import TOLERANCE_MS
from companion.lesson.session import Session
from companion.listening.engines import open_spotter
from companion.listening.microphone.files import blocks
from companion.listening.sound import SAMPLE_RATE
from companion.log.store import open_log
from companion.samples.sample import Sample, bundled_sample
from tests.rig import Screen
from tests.rig_sound import SoundRig
from tests.running import Companion
from tests.waiting import until

KEYS = '\n[[keys]]\npress = "f9"\ndoes = "praise"\n[[keys]]\npress = "f10 hold"\ndoes = "reminder"\n'
BEGIN_S, END_S = 55, 68
"""A stretch of the calm sample with one praise of the class, which is heard clearly."""


@pytest.fixture(scope="module")
def sample() -> Sample:
    """Give the calm sample session."""
    return bundled_sample("calm-garden")


@pytest.fixture
def companion(tmp_path: Path, sample: Sample, sound_rig: SoundRig, screen: Screen) -> Iterator[Companion]:
    """Give a companion that runs with the sample's settings and two keys."""
    assert sound_rig.server.poll() is None
    assert screen.server.poll() is None
    settings = (sample.folder / "plan.toml").read_text(encoding="utf-8")
    companion = Companion(tmp_path / "home", settings + KEYS)
    companion.start()
    yield companion
    companion.end()


@pytest.fixture
def stretch(tmp_path: Path, sample: Sample) -> Path:
    """Give the stretch of the sample's sound, with some silence after it."""
    sound = np.concatenate(list(blocks(sample.sound)))[BEGIN_S * SAMPLE_RATE : END_S * SAMPLE_RATE]
    sound = np.concatenate([sound, np.zeros(SAMPLE_RATE, np.int16)])
    soundfile.write(tmp_path / "stretch.wav", sound, SAMPLE_RATE)
    return tmp_path / "stretch.wav"


@pytest.fixture
def spoken_ms(sample: Sample, stretch: Path) -> list[int]:
    """Give when the marks begin that the recogniser hears in the file itself; each is a true one."""
    spotter = open_spotter(sample.settings.vocabulary(sample.settings.plan()))
    found = [one for block in blocks(stretch) for one in spotter.hear(block)] + spotter.finish()
    begins = [one.begin_ms for one in found if one.fired]
    true = [said.begin_ms - BEGIN_S * 1000 for said in sample.truth]
    assert begins
    assert all(min(abs(begin - said) for said in true) < TOLERANCE_MS for begin in begins)
    return begins


def session_of(companion: Companion) -> Session:
    """Return the session as another reader finds it in the log."""
    with open_log(companion.home.log) as log:
        return log.find()


def heard_ms(companion: Companion) -> list[int]:
    """Return when each mark that was heard begins, doubled ones too."""
    with open_log(companion.home.log) as log:
        bodies = [event.body for event in log.events(log.find().id)]
    return [
        body.at_ms
        for body in bodies
        if isinstance(body, MarkMade | MarkDoubled) and body.source is Source.VOICE
    ]


def played(rig: SoundRig, stretch: Path, opened_s: float, screen: Screen | None, praise_ms: int) -> int:
    """Play the stretch, press F9 a second after its first spoken mark began, and return when it began."""
    began_s = time.monotonic()
    player = rig.play(stretch)
    if screen is not None:
        time.sleep(praise_ms / 1000 + 1)
        screen.tap("F9")
        time.sleep(4)
        screen.tap("F10", held_s=1.2)
    player.wait()
    return round((began_s - opened_s) * 1000)


def test_a_lesson_by_voice_and_keys_with_the_microphone_unplugged_in_the_midst(
    companion: Companion, spoken_ms: list[int], stretch: Path, sound_rig: SoundRig, screen: Screen
) -> None:
    """What was said and pressed is in the log, once, before and after a stretch that was not heard."""
    companion.ask(do="open", class_group="4-Hazel", plan=None, room="")
    opened_s = time.monotonic()
    # Until somebody speaks, the virtual microphone delivers perfect silence, which is told as muted.
    assert until(lambda: "open, level" in (told := str(companion.ask(do="status"))) or "muted" in told)
    first_ms = played(sound_rig, stretch, opened_s, screen, spoken_ms[0])
    assert until(lambda: len(heard_ms(companion)) == len(spoken_ms), limit_s=90)

    sound_rig.unplug()
    assert until(lambda: companion.ask(do="status")["microphone"] == "not heard")
    before = session_of(companion).praise
    screen.tap("F9")
    assert until(lambda: session_of(companion).praise == before + 1)
    sound_rig.plug()
    second_ms = played(sound_rig, stretch, opened_s, None, 0)
    assert until(lambda: len(heard_ms(companion)) == 2 * len(spoken_ms), limit_s=90)

    companion.ask(do="close")
    expected = [begin + shift for shift in (first_ms, second_ms) for begin in spoken_ms]
    assert np.allclose(heard_ms(companion), expected, atol=TOLERANCE_MS)
    session = session_of(companion)
    assert session.praise == 2 * len(spoken_ms) + 1
    assert session.reminder == 1
    doubled = [mark for mark in session.marks if mark.doubled_by]
    assert [{mark.source, *mark.doubled_by} for mark in doubled] == [{Source.KEY, Source.VOICE}]
    reasons = [gap.reason for gap in session.unheard if gap.ended_ms is not None]
    assert any("not there" in reason for reason in reasons), reasons
