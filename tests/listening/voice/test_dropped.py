"""What a review dropped: kept as numbers, told from the phrase, and no harm where the review was wrong."""

import stat
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from companion.errors import CompanionError
from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.learning import bundled_others
from companion.listening.microphone.recent import AFTER_S, BEFORE_S
from companion.listening.rehearsal.taught import teach_again
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.voice.dropped import (
    DROPPED,
    Dropped,
    dropped_count,
    dropped_features,
    heard_as,
    keep_dropped,
    recall_dropped,
)
from companion.listening.voice.features import VoiceFeatures, keep_rehearsed, rehearsed_features
from companion.listening.voice.files import forget, keep, recall
from companion.listening.voice.top_up import FromLessons, only, relearn, top_up, tried, unlike_takes
from tests.listening.speakers import say

PHRASE = "garden team"
VOCABULARY = Vocabulary((PHRASE,))
VOICE = "espeak:en-us"


def clip(said: Sound) -> Sound:
    """Return what a lesson keeps of a candidate: with some room around it."""
    room = np.random.default_rng(6).normal(0, 40, int((BEFORE_S + AFTER_S) * SAMPLE_RATE) + len(said))
    room[int(BEFORE_S * SAMPLE_RATE) : int(BEFORE_S * SAMPLE_RATE) + len(said)] += 0.6 * said
    return room.astype(np.int16)


@pytest.fixture(scope="module")
def rehearsed() -> VoiceFeatures:
    """Return the features of four takes."""
    takes = {PHRASE: [say(PHRASE, VOICE, pace) for pace in (0.94, 1.0, 1.04, 1.1)]}
    return rehearsed_features(VOCABULARY, takes, [])


@pytest.fixture(autouse=True)
def less_speech(monkeypatch: pytest.MonkeyPatch) -> None:
    """Learn against a quarter of the bundled speech, which takes a quarter of the time."""
    bundled = bundled_others()
    few = only(bundled, np.arange(len(bundled.costs)) % 8 < 2)
    monkeypatch.setattr("companion.listening.voice.top_up.other_speech", lambda _own: few)


@pytest.fixture(scope="module")
def nearly() -> tuple[Dropped, ...]:
    """Return what is kept of some sentences that are nearly the phrase."""
    found = (dropped_features(PHRASE, clip(say(f"{near} team", VOICE))) for near in ("guardian", "pardon"))
    return tuple(one for one in found if one is not None)


def test_what_was_dropped_comes_back_as_it_was_kept(nearly: tuple[Dropped, ...], tmp_path: Path) -> None:
    """In private files, which go with the voice; a clip without anything like the phrase leaves nothing."""
    folder = tmp_path / "voice"
    assert len(nearly) == 2
    keep_dropped(folder, nearly[0])
    (back,) = recall_dropped(folder)
    assert back.phrase == PHRASE
    assert np.allclose(back.stretches, nearly[0].stretches, atol=0.05)
    assert np.allclose(back.nats, nearly[0].nats, atol=0.02)
    assert {stat.S_IMODE(file.stat().st_mode) for file in folder.iterdir()} == {0o600}
    assert dropped_features(PHRASE, np.zeros(4 * SAMPLE_RATE, np.int16)) is None
    (file,) = folder.glob(DROPPED)
    whole = file.read_bytes()
    file.write_bytes(whole[:200] + whole[203:])
    with pytest.raises(CompanionError, match="damaged"):
        recall_dropped(folder)
    assert forget(folder)
    assert not dropped_count(folder)


def test_what_was_dropped_fires_less_and_the_phrase_as_before(
    rehearsed: VoiceFeatures, nearly: tuple[Dropped, ...]
) -> None:
    """That is what a review's false marks are kept for."""
    before = relearn(VOCABULARY, rehearsed).detectors[0]
    found = top_up(VOCABULARY, rehearsed, FromLessons(dropped=nearly))
    assert found.confirmed == 0
    assert found.dropped
    after = found.learnt.detectors[0]
    assert after.fires_at >= before.fires_at
    fired_before, fired_after = (
        np.mean([np.mean(heard_as(one, sound) >= one.fires_at) for sound in nearly])
        for one in (before, after)
    )
    assert fired_before > fired_after


def test_a_mark_that_was_dropped_though_it_was_said_teaches_nothing(
    rehearsed: VoiceFeatures, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It may have been unfair. Even where it counts as something else, the voice is left as it was."""
    said = dropped_features(PHRASE, clip(say(PHRASE, VOICE)))
    assert said is not None
    keep_rehearsed(tmp_path, rehearsed)
    learnt = relearn(VOCABULARY, rehearsed)
    keep(tmp_path, learnt)
    keep_dropped(tmp_path, said)
    high = tried(VOCABULARY, rehearsed).high
    assert unlike_takes(learnt, [said], high) == ()
    assert unlike_takes(learnt, [replace(said, phrase="another")], high) == ()
    with pytest.raises(CompanionError, match="is the phrase itself") as told:
        teach_again(VOCABULARY, tmp_path)
    assert told.value.safe == "What was learnt before is as it was."
    monkeypatch.setattr("companion.listening.voice.top_up.CLEAREST", 1.0)
    monkeypatch.setattr("companion.listening.voice.top_up.MAY_BE_LOST", 0.9)
    with pytest.raises(CompanionError, match="heard worse than now"):
        teach_again(VOCABULARY, tmp_path)
    back = recall(tmp_path)
    assert back is not None
    assert back.detectors[0].fires_at == learnt.detectors[0].fires_at
    assert not list(tmp_path.glob("before-*"))
