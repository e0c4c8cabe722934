"""Features in place of takes: kept privately, learnt from again, and no sound among them."""

import stat
from dataclasses import replace
from pathlib import Path

import numpy as np
import psutil
import pytest

from companion.errors import CompanionError
from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.takes import plain_windows
from companion.listening.microphone.recent import BEFORE_S
from companion.listening.phonemes.acoustic_model import hear
from companion.listening.sound import SAMPLE_RATE
from companion.listening.voice.features import (
    TakeFeatures,
    VoiceFeatures,
    keep_rehearsed,
    keep_reviewed,
    recall_features,
    rehearsed_features,
    reviewed_count,
    reviewed_features,
)
from companion.listening.voice.files import (
    FILE,
    REHEARSED,
    go_back,
    keep,
    recall,
    set_aside,
    speaker_entry,
    speaker_of,
)
from companion.listening.voice.speaker import likeness, one_speaker
from companion.listening.voice.top_up import (
    FromLessons,
    Heard,
    learn_from,
    relearn,
    takes_of,
    top_up,
    tried,
    trusted,
)
from tests.listening.speakers import say

CUE = "velvet compass"
VOCABULARY = Vocabulary(("praise",), CUE)


@pytest.fixture(scope="module")
def features() -> VoiceFeatures:
    """Return the features of three takes and a little talk."""
    takes = {CUE: [say(CUE, "flite:rms", pace) for pace in (0.9, 1.0, 1.1)]}
    return rehearsed_features(VOCABULARY, takes, [say("the trowels are under the bench", "flite:rms")])


def test_features_come_back_as_they_were_kept(features: VoiceFeatures, tmp_path: Path) -> None:
    """Takes of a rehearsal and of lessons are told together; the files are private."""
    folder = tmp_path / "voice"
    keep_rehearsed(folder, features)
    keep_reviewed(folder, features.takes[0])
    back = recall_features(folder)
    assert [take.phrase for take in back.takes] == [CUE] * 4
    assert likeness(back.takes[1].speaker, features.takes[1].speaker) > 0.999
    assert np.allclose(back.takes[1].heard.costs, features.takes[1].heard.costs, atol=0.01)
    assert back.talk is not None
    assert features.talk is not None
    assert np.allclose(back.talk.embeddings, features.talk.embeddings, atol=0.05)
    assert reviewed_count(folder) == 1
    assert {stat.S_IMODE(file.stat().st_mode) for file in folder.iterdir()} == {0o600}
    keep_rehearsed(folder, features)
    assert len(recall_features(folder).takes) == 4


def test_a_voice_is_learnt_from_features_alone(features: VoiceFeatures) -> None:
    """The detector is for the cue, and the commands are those of the vocabulary."""
    learnt = relearn(VOCABULARY, features)
    assert learnt.fits(VOCABULARY)
    assert learnt.detectors[0].weights.any()
    assert learnt.speaker is not None
    assert len(learnt.speaker.courses) == 3


def test_how_takes_go_on_comes_back_as_it_was_kept(features: VoiceFeatures, tmp_path: Path) -> None:
    """To an eighth of a decibel."""
    learnt = relearn(VOCABULARY, features)
    keep(tmp_path, learnt)
    back = recall(tmp_path)
    assert back is not None
    assert back.speaker is not None
    assert learnt.speaker is not None
    assert back.speaker.among == pytest.approx(learnt.speaker.among, abs=0.1)
    for kept, course in zip(back.speaker.courses, learnt.speaker.courses, strict=True):
        assert np.allclose(kept, course, atol=0.13)


def test_a_voice_that_an_earlier_version_kept_is_still_known(features: VoiceFeatures) -> None:
    """Without the courses of its takes, and so by the rule of before."""
    kept = speaker_entry(features.takes[0].speaker)
    del kept["courses"], kept["among"]
    voice = speaker_of(kept)
    assert likeness(voice, features.takes[0].speaker) > 0.999
    assert (voice.courses, voice.among) == ((), 0.0)


def test_a_phrase_from_a_lesson_brings_its_own_noise_and_no_course(features: VoiceFeatures) -> None:
    """The voice is still compared with what was rehearsed."""
    clip = np.pad(say(CUE, "flite:rms"), (int(BEFORE_S * SAMPLE_RATE), SAMPLE_RATE))
    take = reviewed_features(CUE, clip)
    assert take is not None
    assert take.speaker.courses == ()
    topped_up = relearn(VOCABULARY, replace(features, takes=(*features.takes, take)))
    assert topped_up.speaker is not None
    assert len(topped_up.speaker.courses) == 3


def test_a_take_from_a_lesson_never_lets_other_voices_in(features: VoiceFeatures) -> None:
    """One that is like the rehearsed takes together, but not like each, leaves it known whose voice it is."""
    rehearsed = [take.speaker for take in features.takes]
    together = one_speaker(rehearsed)
    assert together is not None
    odd = np.random.default_rng(0).normal(size=len(together.direction))
    odd -= odd @ together.direction * together.direction
    direction = 0.662 * together.direction + np.sqrt(1 - 0.662**2) * odd / np.linalg.norm(odd)
    speaker = replace(together, direction=direction.astype(np.float32), courses=())
    take = replace(features.takes[0], speaker=speaker)
    assert trusted(features, (take,)) == (take,)
    assert one_speaker([*rehearsed, speaker]) is None
    learnt = top_up(VOCABULARY, features, FromLessons((take,))).learnt
    assert learnt.speaker is not None


def test_two_takes_are_too_few(features: VoiceFeatures) -> None:
    """One plain sentence says how many are needed."""
    others = features.talk
    assert others is not None
    with pytest.raises(CompanionError, match="only 2 takes"):
        learn_from(CUE, takes_of(CUE, features)[:2], others)


def test_takes_without_the_phrase_are_not_learnt_from(features: VoiceFeatures) -> None:
    """A take in which the phrase can't be heard is left out, and said when too few are left."""
    hiss = np.random.default_rng(4).normal(0, 500, SAMPLE_RATE).astype(np.int16)
    wrong = TakeFeatures(CUE, hear(plain_windows([hiss])), features.takes[0].speaker)
    assert features.talk is not None
    with pytest.raises(CompanionError, match="only 2 takes"):
        learn_from(CUE, [*features.takes[:2], wrong], features.talk)


@pytest.mark.parametrize("cut", [0, 4, 200, -20])
def test_a_damaged_file_is_told_with_a_remedy(features: VoiceFeatures, tmp_path: Path, cut: int) -> None:
    """One plain sentence and what to do, wherever bytes are missing."""
    keep_rehearsed(tmp_path, features)
    path = tmp_path / REHEARSED
    whole = path.read_bytes()
    path.write_bytes(whole[:cut] + whole[cut + 3 :] if cut >= 0 else whole[:cut])
    (tmp_path / FILE).write_bytes(path.read_bytes())
    for read in (recall_features, recall):
        with pytest.raises(CompanionError, match="damaged") as told:
            read(tmp_path)
        # Neither is left open, for as long as anybody looks at the error.
        assert told.value.__cause__
        assert str(tmp_path) not in {str(Path(file.path).parent) for file in psutil.Process().open_files()}


def test_features_of_another_model_are_no_use(
    features: VoiceFeatures, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What another model heard is not learnt from, and a new rehearsal deletes it."""
    with monkeypatch.context() as earlier:
        earlier.setattr("companion.listening.voice.files.MODEL", "an earlier one")
        keep_reviewed(tmp_path, features.takes[0])
    keep_reviewed(tmp_path, features.takes[1])
    assert len(recall_features(tmp_path).takes) == 1
    keep_rehearsed(tmp_path, features)
    assert reviewed_count(tmp_path) == 1
    assert len(recall_features(tmp_path).takes) == 4


def test_a_voice_learnt_with_another_model_is_told_with_a_remedy(
    features: VoiceFeatures, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its numbers mean nothing to this model, so that the teacher has to rehearse again."""
    with monkeypatch.context() as earlier:
        earlier.setattr("companion.listening.voice.files.MODEL", "an earlier one")
        keep(tmp_path, relearn(VOCABULARY, features))
    with pytest.raises(CompanionError, match="another version") as told:
        recall(tmp_path)
    assert told.value.remedy == "Rehearse again: companion rehearse"


def test_what_was_learnt_before_comes_back_and_goes_again(tmp_path: Path) -> None:
    """Voice and takes together; where there is nothing before, nothing is done."""
    assert not go_back(tmp_path)
    (tmp_path / FILE).write_bytes(b"old voice")
    (tmp_path / REHEARSED).write_bytes(b"old takes")
    assert not go_back(tmp_path)
    set_aside(tmp_path)
    (tmp_path / FILE).write_bytes(b"new voice")
    (tmp_path / REHEARSED).write_bytes(b"new takes")
    assert go_back(tmp_path)
    assert (tmp_path / FILE).read_bytes() == b"old voice"
    assert (tmp_path / REHEARSED).read_bytes() == b"old takes"
    assert go_back(tmp_path)
    assert (tmp_path / FILE).read_bytes() == b"new voice"
    assert {stat.S_IMODE(file.stat().st_mode) for file in tmp_path.glob("before-*")} == {0o600}


def test_what_another_voice_said_in_a_lesson_is_not_learnt(features: VoiceFeatures) -> None:
    """A child's that was confirmed by mistake is left out, and the teacher's stays."""
    own = replace(features.takes[0], phrase="own")
    turned = replace(own.speaker, direction=-own.speaker.direction)
    child = TakeFeatures("child", own.heard, turned)
    assert [take.phrase for take in trusted(features, (own, child))] == ["own"]


def test_more_misses_or_more_false_alarms_than_chance_has_are_worse() -> None:
    """A miss in a hundred is none; three are, and so are two false alarms."""
    before = Heard(missed=5, variants=100, false=1)
    assert not Heard(7, 100, 2).worse_than(before)
    assert Heard(8, 100, 1).worse_than(before)
    assert Heard(5, 100, 3).worse_than(before)


def test_takes_from_lessons_are_tried_on_what_was_left_out(features: VoiceFeatures) -> None:
    """More takes of the same cue make no voice worse."""
    four = VoiceFeatures((*features.takes, features.takes[0]), features.talk)
    alone = tried(VOCABULARY, four)
    assert alone.variants == sum(len(take.heard.costs) for take in four.takes)
    assert not tried(VOCABULARY, four, FromLessons(features.takes[1:])).worse_than(alone)
