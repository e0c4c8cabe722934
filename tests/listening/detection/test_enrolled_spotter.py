"""The enrolled engine, learnt from synthetic takes, on sound."""

import math
from dataclasses import replace

import numpy as np
import pytest

from companion.errors import CompanionError
from companion.lesson.vocabulary import Vocabulary
from companion.listening.candidate import Candidate
from companion.listening.detection import enrolled_spotter
from companion.listening.detection.command_fit import CommandFit
from companion.listening.detection.detector import Detector
from companion.listening.detection.enrolled_spotter import (
    COMMAND_SETTLED,
    COMMAND_SETTLED_IN_NOISE,
    HOP,
    EnrolledSpotter,
)
from companion.listening.detection.learning import bundled_others, learn, ways_to_say
from companion.listening.detection.takes import babble, in_room, noisy, room
from companion.listening.microphone.gate import FRAME
from companion.listening.phonemes.acoustic_model import Looks, hear
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.voice.enrolled_engine import learn_voice
from tests.listening.speakers import SPEAKERS, say

CUE = "velvet compass"
COMMANDS = ("praise", "reminder", "take it back", "next phase", "cleanup", "table four praise")
PACES = (0.9, 1.0, 1.1, 1.15, 0.95)


@pytest.fixture(scope="module")
def cue() -> Detector:
    """Learn a detector of the cue from five takes of one synthetic voice."""
    return learn(CUE, [say(CUE, "flite:rms", pace) for pace in PACES], bundled_others())


def spotter(cue: Detector) -> EnrolledSpotter:
    """Return a new spotter for the cue and the commands."""
    commands = CommandFit({command: ways_to_say(command) for command in COMMANDS})
    return EnrolledSpotter(Vocabulary(COMMANDS, cue=CUE), [cue], commands)


def heard(spotter: EnrolledSpotter, sound: Sound, block: int = 1_600) -> list[Candidate]:
    """Return all candidates of a spotter that hears the sound in blocks, with silence around it."""
    quiet = np.random.default_rng(0).normal(0, 3, SAMPLE_RATE).astype(np.int16)
    sound = np.concatenate((quiet, sound, quiet))
    found = [c for at in range(0, len(sound), block) for c in spotter.hear(sound[at : at + block])]
    return found + spotter.finish()


def fired(candidates: list[Candidate]) -> list[str]:
    """Return the phrases that would become marks."""
    return [candidate.phrase for candidate in candidates if candidate.fired]


@pytest.mark.parametrize("command", COMMANDS)
def test_a_command_after_the_cue_is_told_from_the_others(cue: Detector, command: str) -> None:
    """Each command said right after the cue fires once, as itself."""
    assert fired(heard(spotter(cue), say(f"{CUE}, {command}", "flite:rms"))) == [command]


def test_a_clear_command_speaks_for_its_cue(cue: Detector) -> None:
    """A cue that would be a near miss alone becomes a mark with a command after it."""
    sound = say(f"{CUE}, next phase", "flite:rms")
    far_below = replace(cue, fires_at=cue.fires_at + 20 / cue.slope)
    alone = heard(EnrolledSpotter(Vocabulary((CUE,)), [far_below], lowest_log_odds=-30), sound)
    best = max(math.log(found.confidence / (1 - found.confidence)) for found in alone)
    harder = replace(cue, fires_at=far_below.fires_at + (best + 1) / cue.slope)
    assert not fired(heard(EnrolledSpotter(Vocabulary((CUE,)), [harder]), sound))
    assert fired(heard(spotter(harder), sound)) == ["next phase"]


def test_begin_end_and_decision_are_in_their_place(cue: Detector) -> None:
    """The mark begins with the cue, ends with the command, and is decided within half a second."""
    (found,) = heard(spotter(cue), say(f"{CUE}, praise", "flite:rms"))
    length_ms = len(say(f"{CUE}, praise", "flite:rms")) * 1000 // SAMPLE_RATE
    assert 1_000 <= found.begin_ms <= 1_400
    assert found.end_ms <= 1_000 + length_ms + 50
    assert found.end_ms < found.decided_ms <= found.end_ms + 600


@pytest.mark.parametrize(("rattles", "settled"), [(False, COMMAND_SETTLED), (True, COMMAND_SETTLED_IN_NOISE)])
def test_a_command_is_decided_as_soon_as_it_may_be(cue: Detector, rattles: bool, settled: int) -> None:
    """In silence sooner than where something still sounds, in both within one frame of the gate."""
    sound = say(f"{CUE}, praise", "flite:rms")
    sound = np.concatenate((np.zeros(SAMPLE_RATE, np.int16), sound, np.zeros(SAMPLE_RATE, np.int16)))
    if rattles:
        times = np.arange(len(sound))
        sound = noisy(sound, np.random.default_rng(0).normal(size=len(sound)) * (times % 2_560 < 960), 14)
    (found,) = [found for found in heard(spotter(cue), sound) if found.fired]
    waited = (found.decided_ms - found.end_ms) * SAMPLE_RATE // 1000
    assert settled - 16 <= waited <= settled + FRAME + 16


def test_other_talk_of_the_same_voice_marks_nothing(cue: Detector) -> None:
    """Sentences without the cue fire nothing."""
    talk = "please put the watering cans back on the shelf. the compost goes into the green bucket, reminder"
    assert not fired(heard(spotter(cue), say(talk, "flite:rms")))


def test_an_unrelated_sentence_after_the_cue_is_refused(cue: Detector) -> None:
    """The cue with no command after it marks nothing."""
    said = say(f"{CUE} is hanging on the wall in the corner of our kitchen today", "flite:rms")
    assert not fired(heard(spotter(cue), said))


def test_a_phrase_is_caught_beneath_talk_and_echo(cue: Detector) -> None:
    """At 10 dB over sixteen voices, in a room, the phrase still fires."""
    rng = np.random.default_rng(5)
    said = in_room(say(CUE, "flite:rms").astype(np.float64), room(rng, (0.3, 0.31)))
    sound = noisy(np.clip(said * 0.5, -32768, 32767).astype(np.int16), babble(rng, len(said)), 10)
    alone = EnrolledSpotter(Vocabulary((CUE,)), [cue])
    assert fired(heard(alone, sound)) == [CUE]


def test_talk_unlike_any_phrase_is_looked_at_less_often(
    cue: Detector, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While nothing is like the cue, three of four looks are left out; with the cue nearby hardly any."""
    looks = 0

    def counted(windows: Sound) -> Looks:
        nonlocal looks
        looks += 1
        return hear(windows)

    talk = say("please put the watering cans back on the shelf, then wash your hands", "flite:slt")
    before_cue = say(f"{CUE}, praise. {CUE}, reminder", "flite:rms")
    monkeypatch.setattr(enrolled_spotter, "hear", counted)
    shares = []
    for sound in (talk, before_cue):
        listening = spotter(cue)
        looks = 0
        heard(listening, sound)
        shares.append(looks * HOP / len(sound))
    assert shares[0] < 0.5
    assert shares[1] > 0.8


def test_the_length_of_the_blocks_changes_nothing(cue: Detector) -> None:
    """Blocks of 10 ms and of a second give the same candidates."""
    sound = say(f"{CUE}, next phase", "flite:rms")
    small, large = (heard(spotter(cue), sound, block) for block in (160, 16_000))
    assert [(c.phrase, c.begin_ms, c.end_ms, c.fired) for c in small] == [
        (c.phrase, c.begin_ms, c.end_ms, c.fired) for c in large
    ]


def test_confidence_says_whether_it_fires(cue: Detector) -> None:
    """What fires has a probability of a half or more, and what does not has less or a reason."""
    for speaker in SPEAKERS:
        for found in heard(spotter(cue), say(f"{CUE}, praise", speaker)):
            assert 0 <= found.confidence <= 1
            assert found.fired == (found.confidence >= 0.5) or found.reasons


def test_one_take_is_refused_with_a_remedy() -> None:
    """Too few takes give one plain sentence that says how many are needed."""
    with pytest.raises(CompanionError, match="only 1 takes"):
        learn_voice(Vocabulary(("praise",)), {"praise": [say("praise")]})


def test_a_cue_that_no_command_followed_names_no_command(cue: Detector) -> None:
    """Said again before any command, the first cue is a near miss of itself alone."""
    found = heard(spotter(cue), say(f"{CUE}. {CUE}, next phase", "flite:rms"))
    assert [(candidate.phrase, candidate.fired) for candidate in found] == [("", False), ("next phase", True)]
    assert found[0].reasons == ("no command followed",)


@pytest.mark.parametrize("sentence", ["take it back to the kitchen", "praise the cook for this soup"])
def test_a_sentence_that_goes_on_where_a_command_would_end_marks_nothing(
    cue: Detector, sentence: str
) -> None:
    """What begins like a command and goes on as loud as it began is a near miss at most."""
    assert not fired(heard(spotter(cue), say(f"{CUE}, {sentence}", "flite:slt")))
