"""The unenrolled engine on real sound."""

import numpy as np
import pytest

from companion.errors import CompanionError
from companion.lesson.vocabulary import Vocabulary
from companion.listening.candidate import Candidate
from companion.listening.detection.learning import bundled_costs, untaught
from companion.listening.detection.unenrolled_spotter import UnenrolledSpotter
from companion.listening.engines import open_spotter
from companion.listening.sound import SAMPLE_RATE, Sound
from tests.listening.speakers import say

WITH_CUE = Vocabulary(("praise", "reminder", "take it back", "cleanup"), cue="velvet compass")
QUIET = np.zeros(SAMPLE_RATE, np.int16)


def heard(vocabulary: Vocabulary, *sounds: Sound, block: int = 1_600) -> list[Candidate]:
    """Return what a new spotter makes of `sounds`, one after the other, with a second between them."""
    spotter = UnenrolledSpotter(vocabulary, [untaught(one, bundled_costs()) for one in vocabulary.openers])
    whole = np.concatenate([part for sound in sounds for part in (QUIET, sound)] + [QUIET])
    found = [c for at in range(0, len(whole), block) for c in spotter.hear(whole[at : at + block])]
    return found + spotter.finish()


@pytest.mark.parametrize("voice", ["flite:rms", "flite:slt"])
def test_a_command_after_the_cue_is_heard_from_a_voice_it_never_met(voice: str) -> None:
    """With its beginning at the cue, and a posterior above a half."""
    found = [c for c in heard(WITH_CUE, say("velvet compass, reminder", voice)) if c.fired]
    assert [c.phrase for c in found] == ["reminder"]
    assert found[0].begin_ms == pytest.approx(1_050, abs=250)
    assert found[0].begin_ms < found[0].end_ms <= found[0].decided_ms
    assert found[0].confidence > 0.5


def test_a_command_without_the_cue_and_the_cue_in_other_talk_make_no_mark() -> None:
    """Nothing fires; a cue that no command follows is at most a near miss."""
    talk = [
        say("I want to praise this table for the cleanup", "flite:rms"),
        say("the velvet curtain and the compass are over there by the window", "flite:slt"),
    ]
    assert not [c for c in heard(WITH_CUE, *talk) if c.fired]


def test_single_phrases_need_no_cue() -> None:
    """Each phrase then has a detector of its own."""
    found = [c for c in heard(Vocabulary(("velvet compass",)), say("velvet compass", "flite:rms")) if c.fired]
    assert [c.phrase for c in found] == ["velvet compass"]


def test_the_length_of_the_blocks_changes_nothing() -> None:
    """The same candidates in tiny blocks and in large ones."""
    sound = say("velvet compass, praise", "flite:rms")
    assert heard(WITH_CUE, sound, block=160) == heard(WITH_CUE, sound, block=16_000)


def test_it_is_for_english_and_for_words_that_can_be_said() -> None:
    """Another language is not ready; an unsayable word is a plain error."""
    with pytest.raises(CompanionError, match="understands English only"):
        open_spotter(Vocabulary(("정원",), language="ko"), "phonemes")
    with pytest.raises(CompanionError, match="학교"):
        open_spotter(Vocabulary(("학교",)), "phonemes")


@pytest.mark.parametrize(
    "sentence", ["take it back to the kitchen please", "clean up your hands at the sink"]
)
def test_a_sentence_that_begins_with_a_command_makes_no_mark(sentence: str) -> None:
    """What goes on behind the command at once is no command; with a pause between them it is one."""
    assert not [c for c in heard(WITH_CUE, say(f"velvet compass, {sentence}", "flite:rms")) if c.fired]
    with_pause = np.concatenate(
        (say("velvet compass, take it back", "flite:rms"), QUIET[:4_000], say(sentence))
    )
    assert [c.phrase for c in heard(WITH_CUE, with_pause) if c.fired] == ["take it back"]
