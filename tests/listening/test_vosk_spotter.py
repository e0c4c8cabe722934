"""The Vosk engine on the real Korean model, from synthetic Korean sound to candidates."""

import numpy as np
import pytest

from companion.listening.candidate import SAMPLE_RATE, Candidate, Sound
from companion.listening.engines import open_spotter
from companion.listening.vosk_spotter import VoskSpotter, grammar_alone
from tests.listening.korean import CUE, PHRASES, TALK, VOCABULARY, korean_model, say, silence

WELL_UNDERSTOOD = ("요리 시간", "취소", "쉬는 시간", "마무리")


def hear(sound: Sound, *, block_ms: int = 100, alone: bool = False) -> list[Candidate]:
    """Return what a new spotter decides on `sound`."""
    spotter = VoskSpotter(VOCABULARY, korean_model(), grammar_alone if alone else None)
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
    """Phrases with talk and long silence between fire once each, where they were said, across resets."""
    sound = silence(1.0)
    expected = []
    for phrase in WELL_UNDERSTOOD:
        expected.append((phrase, len(sound) * 1000 // SAMPLE_RATE))
        sound = np.concatenate((sound, say(f"{CUE} {phrase}", before_s=0.0), silence(3.0)))
    found = [candidate for candidate in hear(sound) if candidate.fired]
    assert [candidate.phrase for candidate in found] == [phrase for phrase, _ in expected]
    for candidate, (_, said_at_ms) in zip(found, expected, strict=True):
        assert abs(candidate.begin_ms - said_at_ms) < 400
        assert candidate.begin_ms < candidate.end_ms <= candidate.decided_ms
        assert candidate.engine == "vosk"
        assert len(candidate.reasons) == 3


def test_phrase_after_long_speech_without_a_pause_is_dated_rightly() -> None:
    """After more speech than one recogniser is kept for, a phrase still has its own place in time."""
    talk = [say(text, before_s=0.0, after_s=0.0) for text in TALK[:7]]
    sound = np.concatenate((*talk, say(f"{CUE} 마무리", before_s=0.0)))
    said_at_ms = sum(map(len, talk)) * 1000 // SAMPLE_RATE
    assert said_at_ms > 15_000
    found = [candidate for candidate in hear(sound) if candidate.phrase == "마무리"]
    assert len(found) == 1
    assert abs(found[0].begin_ms - said_at_ms) < 500


@pytest.mark.parametrize("block_ms", [7, 1_000])
def test_length_of_blocks_makes_no_difference(block_ms: int) -> None:
    """The same phrase is found in tiny and in large blocks."""
    assert fired(hear(say(f"{CUE} 취소"), block_ms=block_ms)) == ["취소"]


def test_end_of_the_sound_decides_what_is_open() -> None:
    """A phrase right at the end of the sound is decided by `finish`."""
    assert fired(hear(say(f"{CUE} 요리 시간", after_s=0.1))) == ["요리 시간"]


def test_talk_is_believed_by_the_grammar_alone_and_not_by_the_second_hearing() -> None:
    """On babble and talk the grammar alone takes more for phrases than the second hearing lets pass."""
    voices = [
        say(" ".join(TALK[at::3]), voice=voice, after_s=0.0)
        for at, voice in enumerate(("ko", "ko+f2", "ko+f4"))
    ]
    shortest = min(map(len, voices))
    babble = sum(voice[:shortest] * 0.4 for voice in voices).astype(np.int16)
    cue_in_talk = say(f"{CUE} 시간표를 바꿨습니다", voice="ko+f2")
    sound = np.concatenate((babble, silence(1.0), cue_in_talk))
    assert len(fired(hear(sound))) < len(hear(sound, alone=True))


def test_nothing_is_heard_in_silence_and_nothing_is_printed(capfd: pytest.CaptureFixture[str]) -> None:
    """Silence gives no candidate, and the native code prints nothing, also while it hears a phrase."""
    assert hear(silence(2.0)) == []
    hear(say(f"{CUE} 정원"))
    printed = capfd.readouterr()
    assert printed.err == ""
    assert printed.out == ""
