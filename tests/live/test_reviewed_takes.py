"""From a settled review to features of the voice, with consent only."""

from datetime import date
from pathlib import Path

import numpy as np
import pytest

from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import Kind
from companion.lesson.session import Session
from companion.listening.microphone.recent import AFTER_S, BEFORE_S
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.voice.dropped import recall_dropped
from companion.listening.voice.features import cut_out, recall_features, reviewed_count
from companion.live import reviewed_takes
from companion.live.clips import Clips
from companion.live.reviewed_takes import ReviewedTakes
from companion.settings.settings import Settings, parse_settings
from tests.lesson.builders import began, praise, told
from tests.listening.speakers import say

CUE = "velvet compass"
PLAN = '[[plans]]\nname = "garden"\nphases = [{ name = "arrival", minutes = 5 }]\n'
TODAY = date(2026, 9, 14)


def settings(*, consent: bool) -> Settings:
    """Return settings with a cue, and the teacher's consent or not."""
    learns = "learn_from_reviews = true\n" if consent else ""
    return parse_settings(f'[listening]\ncue = "{CUE}"\n{learns}{PLAN}', "test.toml")


def clip(said: Sound) -> Sound:
    """Return what the running companion keeps of a candidate: with some room around it."""
    room = np.random.default_rng(6).normal(0, 40, int((BEFORE_S + AFTER_S) * SAMPLE_RATE) + len(said))
    room[int(BEFORE_S * SAMPLE_RATE) : int(BEFORE_S * SAMPLE_RATE) + len(said)] += 0.6 * said
    return room.astype(np.int16)


@pytest.fixture
def session() -> Session:
    """Return a settled session with a near miss that was confirmed and one that was not."""
    misses = (ev.NearMissHeard("praise", at, 0.3, Command(Action.PRAISE)) for at in (9_000, 20_000))
    return told(began("arrival", 0), *misses, ev.NearMissConfirmed("c3", Kind.PRAISE), ev.SessionSettled())


@pytest.fixture
def clips(session: Session) -> Clips:
    """Return the sounds of both."""
    clips = Clips()
    for item in ("c3", "c4"):
        clips.keep(session.id, item, clip(say(f"{CUE}, praise", "flite:rms")), TODAY)
    return clips


def test_a_confirmed_near_miss_becomes_a_take_of_the_cue(
    session: Session, clips: Clips, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once, even if the session is settled again; what was not confirmed is left alone."""
    monkeypatch.setattr(reviewed_takes, "FINISH_WITHIN_S", 240)
    takes = ReviewedTakes(tmp_path)
    takes.take_up(session, clips, settings(consent=True))
    takes.take_up(session, clips, settings(consent=True))
    takes.close()
    assert [take.phrase for take in recall_features(tmp_path).takes] == [CUE]


def test_a_dropped_mark_is_kept_as_what_the_cue_is_told_from(
    clips: Clips, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As features of the cue's place, beside no take."""
    monkeypatch.setattr(reviewed_takes, "FINISH_WITHIN_S", 240)
    heard = told(began("arrival", 0), praise(9_000), ev.MarkDropped("m3"), ev.SessionSettled())
    clips.keep(heard.id, "m3", clip(say("velvet carpet, praise", "flite:rms")), TODAY)
    takes = ReviewedTakes(tmp_path)
    takes.take_up(heard, clips, settings(consent=True))
    takes.close()
    assert [one.phrase for one in recall_dropped(tmp_path)] == [CUE]
    assert not reviewed_count(tmp_path)


def test_without_consent_without_rehearsal_or_without_sound_nothing_is_kept(
    session: Session, clips: Clips, tmp_path: Path
) -> None:
    """Consent is a setting that nobody has by default."""
    for folder, consent, sounds in (
        (tmp_path, False, clips),
        (tmp_path / "voice", True, clips),
        (tmp_path, True, Clips()),
    ):
        takes = ReviewedTakes(folder)
        takes.take_up(session, sounds, settings(consent=consent))
        takes.close()
        assert not reviewed_count(folder)
    assert not (tmp_path / "voice").exists()


def test_the_cue_is_cut_out_of_what_followed_it() -> None:
    """The take ends about where the cue does, and a clip without the cue gives none."""
    cue = cut_out(CUE, clip(say(f"{CUE}, next phase", "flite:rms")))
    assert cue is not None
    assert abs(len(cue) - len(say(CUE, "flite:rms"))) < 0.45 * SAMPLE_RATE
    hiss = np.random.default_rng(7).normal(0, 500, 4 * SAMPLE_RATE).astype(np.int16)
    assert cut_out(CUE, hiss) is None
