"""Another voice makes no mark but a near miss."""

from dataclasses import replace

import numpy as np
import pytest
import soxr

from companion.listening.candidate import Candidate
from companion.listening.detection.takes import speech_in
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.voice.check import REASON, VoiceCheck
from companion.listening.voice.speaker import Speaker, one_speaker, take_speaker
from tests.listening.speakers import say

CUE = "velvet compass"
BEFORE: Sound = np.zeros(SAMPLE_RATE, np.int16)


class Believer:
    """A spotter that believes at its end that the cue and a command were said from `begin` to `end`."""

    name = "believer"

    def __init__(self, begin: int, end: int, *, fired: bool = True) -> None:
        """Take the place in samples."""
        self._place = (begin * 1000 // SAMPLE_RATE, end * 1000 // SAMPLE_RATE)
        self._fired = fired

    def hear(self, block: Sound) -> list[Candidate]:
        """Find nothing yet."""
        assert len(block)
        return []

    def finish(self) -> list[Candidate]:
        """Find it."""
        begin, end = self._place
        return [Candidate("praise", begin, end, end, 0.95, self._fired, self.name, ("like your takes",))]


@pytest.fixture(scope="module")
def teacher() -> Speaker:
    """Return the voice of three takes of the cue."""
    voice = one_speaker([take_speaker(say(CUE, "flite:rms", pace)) for pace in (0.9, 1.0, 1.1)])
    assert voice is not None
    return voice


def checked(teacher: Speaker, speaker: str, *, times: float = 1.0, fired: bool = True) -> Candidate:
    """Return what becomes of a phrase that `speaker` says with pitch and formants `times` as high."""
    said = say(f"{CUE}, praise", speaker)
    said = np.rint(soxr.resample(said.astype(np.float64), SAMPLE_RATE, SAMPLE_RATE / times)).astype(np.int16)
    begin, end = speech_in(said)
    believer = Believer(len(BEFORE) + begin, len(BEFORE) + end, fired=fired)
    check = VoiceCheck(believer, teacher)
    sound = np.concatenate((BEFORE, said))
    assert check.name == "believer"
    for at in range(0, len(sound), 1_600):
        assert check.hear(sound[at : at + 1_600]) == []
    (found,) = check.finish()
    return found


def test_the_teacher_makes_a_mark(teacher: Speaker) -> None:
    """The candidate is left as it was."""
    found = checked(teacher, "flite:rms")
    assert found.fired
    assert (found.confidence, found.reasons) == (0.95, ("like your takes",))


def test_somebody_else_makes_a_near_miss_with_its_reason(teacher: Speaker) -> None:
    """It is told as such, and less likely than not."""
    found = checked(teacher, "flite:slt")
    assert not found.fired
    assert found.reasons == (REASON,)
    assert found.confidence < 0.5


@pytest.mark.parametrize("times", [0.83, 1.2])
def test_the_teachers_voice_from_another_body_makes_a_near_miss(teacher: Speaker, times: float) -> None:
    """So would a child's that is otherwise like it."""
    found = checked(teacher, "flite:rms", times=times)
    assert not found.fired
    assert found.reasons == (REASON,)


def test_what_goes_on_otherwise_than_the_takes_makes_a_near_miss(teacher: Speaker) -> None:
    """Each moment of the phrase is compared, where that was kept; a voice of before needs no rehearsal."""
    others = tuple(take_speaker(say(CUE, "flite:slt", pace)).courses[0] for pace in (0.9, 1.0, 1.1))
    assert not checked(replace(teacher, courses=others), "flite:rms").fired
    before = replace(teacher, courses=(), among=0.0)
    assert checked(before, "flite:rms").fired
    assert not checked(before, "flite:slt").fired


def test_a_near_miss_stays_what_it_is(teacher: Speaker) -> None:
    """Only what would have fired is looked into."""
    assert checked(teacher, "flite:slt", fired=False).reasons == ("like your takes",)
