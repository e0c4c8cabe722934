"""The Vosk engine on the real Korean model, from synthetic Korean sound to candidates."""

from functools import cache

import numpy as np
import pytest

from companion.listening.candidate import SAMPLE_RATE, Candidate, Sound
from companion.listening.engines import open_spotter
from companion.listening.vosk_grammar import Grammar
from companion.listening.vosk_opinion import SecondHearing
from companion.listening.vosk_spotter import VoskSpotter, grammar_alone
from tests.listening.korean import CUE, PHRASES, VOCABULARY, korean_model, say, silence

WELL_UNDERSTOOD = ("요리 시간", "취소", "쉬는 시간", "마무리")


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


def test_every_phrase_has_words_of_the_model() -> None:
    """The engine takes a Korean vocabulary, chosen by its language alone."""
    assert open_spotter(VOCABULARY).name == "vosk"
    assert len(PHRASES) > 5


def test_phrases_are_found_on_the_clock_of_the_session() -> None:
    """With long silence between, most phrases fire, once each and where they were said; nothing else does.

    The engine adds noise of its own to the sound, so that the same phrase may fit worse the next time.
    """
    sound = silence(1.0)
    said_at_ms = {}
    for phrase in WELL_UNDERSTOOD:
        said_at_ms[phrase] = len(sound) * 1000 // SAMPLE_RATE
        sound = np.concatenate((sound, say(f"{CUE} {phrase}", before_s=0.0), silence(3.0)))
    found = [candidate for candidate in hear(sound) if candidate.fired]
    assert len(found) >= len(WELL_UNDERSTOOD) // 2
    assert len({candidate.phrase for candidate in found}) == len(found)
    for candidate in found:
        assert abs(candidate.begin_ms - said_at_ms[candidate.phrase]) < 400
        assert candidate.begin_ms < candidate.end_ms <= candidate.decided_ms
        assert candidate.engine == "vosk"
        assert len(candidate.reasons) == 3


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
