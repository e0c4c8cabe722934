"""Cues that synthetic voices have taught, before anybody has rehearsed."""

import shutil
from pathlib import Path

import numpy as np
import pytest

from companion.errors import CompanionError
from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.learning import bundled_costs, bundled_embeddings, learn
from companion.listening.detection.synthesiser import MANNERS, say
from companion.listening.engines import Voice, open_spotter
from companion.listening.phonemes.acoustic_model import Looks
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.spotter import hear_whole
from companion.listening.voice.cues import SUGGESTED, keep_cue, learn_cue, synthetic_cue, synthetic_stretches
from companion.listening.voice.files import forget
from companion.listening.voice.top_up import only
from companion.listening.voice.unenrolled_engine import untaught_openers
from tests.listening import speakers

QUIET: Sound = np.zeros(SAMPLE_RATE, np.int16)
OWN = "paper windmill"


def some_talk() -> Looks:
    """Return a part of the bundled speech: learning from all of it takes long."""
    every_sixth = np.arange(len(bundled_costs())) % 6 == 0
    return only(Looks(bundled_costs(), bundled_embeddings()), every_sixth)


def test_every_suggested_cue_comes_with_the_companion() -> None:
    """Learnt from the network in use, from some dozens of voices, and in need of nothing more."""
    for cue in SUGGESTED:
        bundled = synthetic_cue(cue, None)
        assert bundled is not None
        assert bundled.detector.phrase == cue
        assert len(bundled.voices) > 40
    assert not untaught_openers(Vocabulary(SUGGESTED), Voice())


def test_a_suggested_cue_is_heard_from_a_voice_that_did_not_teach_it() -> None:
    """A command after it becomes a mark, on the first day and with nobody's takes."""
    cue = SUGGESTED[1]
    vocabulary = Vocabulary(("praise", "reminder", "take it back"), cue=cue)
    sound = np.concatenate((QUIET, speakers.say(f"{cue}, reminder", "espeak:en-gb+m2"), QUIET))
    heard = hear_whole(open_spotter(vocabulary, "phonemes"), sound)
    assert [found.phrase for found in heard if found.fired] == ["reminder"]


def test_a_cue_of_ones_own_is_learnt_on_the_spot_and_outlives_the_voice(tmp_path: Path) -> None:
    """It is kept beside the voice, used at once, and holds nothing of the teacher to be forgotten."""
    vocabulary, voice = Vocabulary((OWN,)), Voice(features=tmp_path)
    assert untaught_openers(vocabulary, voice) == (OWN,)
    path = keep_cue(tmp_path, learn_cue(OWN, say(OWN, MANNERS[::6]), some_talk()))
    (tmp_path / "voice.npz").write_bytes(b"the teacher's")
    assert forget(tmp_path)
    assert list(tmp_path.iterdir()) == [path]
    assert path.stat().st_mode & 0o077 == 0
    assert untaught_openers(vocabulary, voice) == ()
    heard = hear_whole(
        open_spotter(vocabulary, "phonemes", voice),
        np.concatenate((QUIET, speakers.say(OWN, "flite:rms"), QUIET)),
    )
    assert [found.phrase for found in heard if found.fired] == [OWN]
    path.write_bytes(b"half a file")
    with pytest.raises(CompanionError, match="damaged"):
        open_spotter(vocabulary, "phonemes", voice)


def test_the_teachers_takes_are_added_to_the_synthetic_ones() -> None:
    """Learnt from both, the detector is neither that of the takes alone nor that of the synthetic voices."""
    cue = SUGGESTED[0]
    bundled = synthetic_cue(cue, None)
    assert bundled is not None
    takes = [speakers.say(cue, "flite:slt", pace) for pace in (0.9, 1.0, 1.1)]
    others = some_talk()
    alone = learn(cue, takes, others)
    both = learn(cue, takes, others, synthetic=synthetic_stretches(cue, None))
    assert not np.allclose(both.weights, alone.weights)
    assert not np.allclose(both.weights, bundled.detector.weights)


def test_without_a_synthesiser_it_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    """A plain error names the extra, and the rehearsal that needs none."""
    monkeypatch.setattr(shutil, "which", lambda _: None)
    monkeypatch.setattr("companion.listening.detection.synthesiser.find_spec", lambda _: None)
    with pytest.raises(CompanionError) as refused:
        say(OWN)
    assert "lesson-companion[voices]" in str(refused.value.remedy)
