"""The Vosk engine on the real Korean model, from synthetic Korean sound to candidates."""

import json
from functools import cache
from unittest.mock import Mock

import numpy as np
import pytest

from companion.listening.candidate import Candidate
from companion.listening.engines import open_spotter
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.voice.speaker import one_speaker, take_speaker
from companion.listening.vosk import spotter as vosk_spotter
from companion.listening.vosk.grammar import Grammar
from companion.listening.vosk.model import VoskModel
from companion.listening.vosk.opinion import SecondHearing
from companion.listening.vosk.spotter import VoskSpotter, grammar_alone
from tests.listening.korean import CUE, PHRASES, TALK, VOCABULARY, VOICES, korean_model, say, silence, spoken

CLEAR = ("요리 시간", "취소", "쉬는 시간", "마무리")
"""Phrases that the model understands well from this voice."""


@cache
def _second_hearing() -> SecondHearing:
    return SecondHearing(korean_model(), Grammar(VOCABULARY, korean_model()))


def hear(sound: Sound, *, block_ms: int = 100, alone: bool = False) -> list[Candidate]:
    """Return what a new spotter decides on `sound`."""
    spotter = VoskSpotter(VOCABULARY, korean_model(), grammar_alone if alone else _second_hearing())
    step = SAMPLE_RATE * block_ms // 1000
    found = [one for at in range(0, len(sound), step) for one in spotter.hear(sound[at : at + step])]
    return found + spotter.finish()


def fired(candidates: list[Candidate]) -> list[str]:
    """Return the phrases that became marks."""
    return [candidate.phrase for candidate in candidates if candidate.fired]


def _lesson() -> tuple[Sound, list[int]]:
    """Return the clear phrases with three seconds of silence between, and where each begins, in ms."""
    sound = silence(1.0)
    said_at_ms = []
    for phrase in CLEAR:
        said_at_ms.append(len(sound) * 1000 // SAMPLE_RATE)
        sound = np.concatenate((sound, say(f"{CUE} {phrase}", before_s=0.0), silence(3.0)))
    return sound, said_at_ms


def test_every_phrase_has_words_of_the_model() -> None:
    """The engine takes a Korean vocabulary, chosen by its language alone."""
    assert open_spotter(VOCABULARY).name == "vosk"
    assert len(PHRASES) > 5


def test_phrases_are_found_on_the_clock_of_the_session() -> None:
    """With long silence between, all clear phrases fire, once each and where they were said; nothing else."""
    sound, said_at_ms = _lesson()
    found = [candidate for candidate in hear(sound) if candidate.fired]
    assert [candidate.phrase for candidate in found] == list(CLEAR)
    for candidate, at_ms in zip(found, said_at_ms, strict=True):
        assert abs(candidate.begin_ms - at_ms) < 400
        assert candidate.begin_ms < candidate.end_ms <= candidate.decided_ms
        assert candidate.engine == "vosk"
        assert len(candidate.reasons) == 3


def test_same_sound_is_heard_the_same_again() -> None:
    """The noise that Vosk adds to the sound, other each time, decides nothing."""
    one, other = (hear(say(f"{CUE} 마무리", after_s=0.5)) for _ in range(2))
    assert [candidate.phrase for candidate in one] == [candidate.phrase for candidate in other] == ["마무리"]
    assert one[0].confidence == pytest.approx(other[0].confidence, abs=0.05)


def test_phrase_in_unbroken_talk_keeps_its_time() -> None:
    """After so long a talk without a pause that the recogniser was renewed, a phrase is dated rightly."""
    talk = [spoken(text, "ko+f5") for text in TALK[3:11]]
    before = np.concatenate((silence(0.5), *talk, silence(0.1)))
    assert len(before) > 20 * SAMPLE_RATE
    sound = np.concatenate((before, spoken(f"{CUE} 마무리", VOICES[0]), silence(0.1), *talk[:2]))
    (found,) = [candidate for candidate in hear(sound) if candidate.fired]
    assert found.phrase == "마무리"
    assert abs(found.begin_ms - len(before) * 1000 // SAMPLE_RATE) < 400


def test_second_hearing_keeps_talk_out() -> None:
    """The grammar alone finds phrases in talk; the second hearing believes fewer of them."""
    talk = np.concatenate((silence(0.5), *(spoken(text, "ko+f5") for text in TALK[3:9])))
    assert len(fired(hear(talk))) < len(fired(hear(talk, alone=True)))


@pytest.mark.parametrize(("voice", "fires"), [(VOICES[0], True), ("ko", False)])
def test_learnt_voice_makes_marks_and_another_only_near_misses(
    voice: str, fires: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where it is known what the teacher sounds like, the same phrase in another voice is for the review."""
    teacher = one_speaker([take_speaker(say(CUE, voice=VOICES[0], rate=rate)) for rate in (125, 135, 145)])
    monkeypatch.setattr(vosk_spotter, "learnt_speaker", lambda *_: teacher)
    spotter = open_spotter(VOCABULARY, "vosk")
    (found,) = [*spotter.hear(say(f"{CUE} 요리 시간", voice=voice)), *spotter.finish()]
    assert (found.phrase, found.fired) == ("요리 시간", fires)


def test_recogniser_that_never_decides_is_renewed_a_bounded_number_of_times() -> None:
    """One that has a phrase on its lips for ever, and takes it back, holds up no lesson."""
    insisting = Mock()
    insisting.AcceptWaveform.return_value = False
    insisting.PartialResult.return_value = json.dumps({"partial": f"{CUE} 취소"})
    insisting.FinalResult.return_value = json.dumps({"alternatives": []})
    model = Mock(VoskModel, unknown=None)
    model.recogniser.return_value = insisting
    sound = say(f"{CUE} 취소", after_s=0.1)
    spotter = VoskSpotter(VOCABULARY, model, grammar_alone)
    assert [*spotter.hear(sound), *spotter.finish()] == []
    assert model.recogniser.call_count <= 3 + 2 * len(sound) // (SAMPLE_RATE // 10)


@pytest.mark.parametrize("block_ms", [7, 1_000])
def test_length_of_blocks_makes_no_difference(block_ms: int) -> None:
    """The same phrase is found in tiny and in large blocks."""
    assert fired(hear(say(f"{CUE} 취소"), block_ms=block_ms)) == ["취소"]


def test_end_of_the_sound_decides_what_is_open() -> None:
    """A phrase right at the end of the sound is decided by `finish`."""
    assert fired(hear(say(f"{CUE} 요리 시간", after_s=0.1))) == ["요리 시간"]


def test_nothing_is_heard_in_silence_and_nothing_is_printed(capfd: pytest.CaptureFixture[str]) -> None:
    """Silence gives no candidate, and the native code prints nothing, also while it hears a phrase."""
    assert hear(silence(2.0)) == []
    hear(say(f"{CUE} 정원"))
    printed = capfd.readouterr()
    assert printed.err == ""
    assert printed.out == ""
