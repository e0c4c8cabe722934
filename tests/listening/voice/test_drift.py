"""How it stands with the learnt voice, in words."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np

from companion.listening.phonemes.acoustic_model import Looks
from companion.listening.voice.drift import VoiceNow, voice_now
from companion.listening.voice.features import TakeFeatures, keep_reviewed
from companion.listening.voice.files import FILE
from companion.log.store import open_log
from companion.paths import Home
from tests.lesson.builders import AT
from tests.listening.voice.sunk import SINCE, SPEAKER, hold_lessons, learn_voice


def now_of(home: Home) -> VoiceNow:
    """Return how it stands with the voice."""
    with open_log(home.create().log) as log:
        return voice_now(log, home.voice)


def test_whether_other_voices_are_refused_is_said(tmp_path: Path) -> None:
    """Not before a voice is learnt, nor where the takes were not clearly one."""
    home = Home(tmp_path)
    assert "no voice is refused" in now_of(home).words
    learn_voice(home, None)
    assert "not clearly one voice" in now_of(home).words
    assert not now_of(home).tells_others
    learn_voice(home)
    assert now_of(home) == VoiceNow("learnt: other voices make near misses, no marks")
    (home.voice / FILE).write_bytes(b"no voice")
    assert "damaged" in now_of(home).words
    assert "Rehearse again" in now_of(home).remedy


def test_a_voice_that_is_heard_less_well_is_told_until_it_is_learnt_again(tmp_path: Path) -> None:
    """With the day, what may be the reason, and what to do: a top-up, where reviews left something for it."""
    home = Home(tmp_path)
    hold_lessons(home)
    learn_voice(home)
    assert f"Since {SINCE} your voice is heard less well" in now_of(home).words
    assert "A cold, a mask or another microphone" in now_of(home).words
    assert now_of(home).remedy == "If it stays so, rehearse again: companion rehearse"
    nothing = np.zeros((1, 1, 1), np.float32)
    keep_reviewed(home.voice, TakeFeatures("velvet compass", Looks(nothing, nothing), SPEAKER))
    assert "companion rehearse --top-up" in now_of(home).remedy
    learn_voice(home, replace(SPEAKER, pitch_hz=110.0), AT + timedelta(days=40))
    assert now_of(home).remedy == ""
