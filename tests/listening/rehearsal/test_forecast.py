"""What a rehearsal foretells, in numbers and in words."""

import numpy as np

from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.learning import bundled_costs, untaught, ways_to_say
from companion.listening.rehearsal.forecast import (
    FalseMarks,
    Missed,
    Mixup,
    commands_said,
    mixups,
    rehearsed_odds,
    voice_above_room,
)
from companion.listening.voice.learnt import Learnt
from tests.listening.speakers import say

CUE = "velvet compass"


def test_misses_are_told_as_one_in_so_many_with_an_interval() -> None:
    """Eight takes can't promise much, and the sentence doesn't."""
    assert "probably fewer than 1 in 3 missed" in Missed(CUE, 0, 8).sentence
    assert "about 1 in 8 missed, likely between 1 in 45 and 1 in 2" in Missed(CUE, 1, 8).sentence
    assert "about 1 in 1 missed" in Missed(CUE, 8, 8).sentence


def test_false_marks_are_told_as_the_most_that_there_may_be() -> None:
    """An hour of talk promises little; many hours more."""
    assert "never in 58 minutes" in FalseMarks(0, 0.97).sentence
    assert "no more than about 175 false marks" in FalseMarks(0, 0.97).sentence
    assert "no more than about 8 false marks" in FalseMarks(0, 20.0).sentence
    assert "1 time in 20.0 hours" in FalseMarks(1, 20.0).sentence
    assert "without a command" in FalseMarks(0, 20.0, with_command=True).sentence


def test_a_command_that_sounds_like_another_is_told_with_advice() -> None:
    """What is said after the cue goes through the same choice as in a lesson."""
    vocabulary = Vocabulary(("carry on", "cleanup", "line up"), CUE)
    learnt = Learnt(
        (untaught(CUE, bundled_costs()),), {phrase: ways_to_say(phrase) for phrase in vocabulary.phrases}
    )
    takes = {
        CUE: [say(CUE, "flite:rms")],
        "line up": [say("line up", "flite:rms"), say("line up", "flite:rms", 1.1)],
        "cleanup": [say("carry on", "flite:rms")],
    }
    said = commands_said(vocabulary, learnt, takes)
    (found,) = mixups(said)
    assert found == Mixup("cleanup", "carry on", 1, 1)
    assert "“cleanup” is often taken for “carry on”" in found.sentence
    assert "choose another word" in found.sentence
    odds = rehearsed_odds(said)
    assert odds is not None
    assert 0 < odds < 6
    assert rehearsed_odds(commands_said(vocabulary, learnt, {})) is None


def test_unclear_commands_are_told_too() -> None:
    """They become near misses in a lesson."""
    assert "not always clear (1 of 3 times)" in Mixup("cleanup", "", 1, 3).sentence


def test_the_voice_is_compared_with_the_room() -> None:
    """A room nearly as loud as the voice is told with a remedy."""
    take = say(CUE, "flite:rms")
    rng = np.random.default_rng(3)
    quiet = rng.normal(0, 10, 16000).astype(np.int16)
    loud = rng.normal(0, 1500, 16000).astype(np.int16)
    assert "plenty" in voice_above_room({CUE: [take]}, quiet)
    assert "come nearer" in voice_above_room({CUE: [take]}, loud)
    assert voice_above_room({CUE: [take]}, quiet[:0]) == ""
