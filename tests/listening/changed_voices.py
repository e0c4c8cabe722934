"""Synthetic teachers in classes of different loudness, and what a cold, a mask or a microphone does to them.

What a learnt voice makes of each clip takes about half a second of a processor, so it is kept in a file that
terms of lessons are then drawn from as often as one likes.
"""

import json
import multiprocessing
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import numpy as np
import soxr
from scipy.signal import butter, sosfilt

from companion.bench.conditions import Condition, place
from companion.listening.detection.takes import Floats, Takes
from companion.listening.rehearsal.forecast import commands_said, rehearsed_odds
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.spotter import hear_whole
from companion.listening.voice.enrolled_engine import learn_voice, new_spotter
from companion.log.week_rows import bounded_odds
from tests.listening.measure_commands import vocabulary
from tests.listening.speakers import SPEAKERS, say

CUE_PACES = (0.9, 0.94, 0.98, 1.0, 1.02, 1.06, 1.1, 1.14)
LEVELS = (18.0, 12.0, 8.0, 5.0)
"""Decibels of a voice above its class."""
REHEARSED, SAID = slice(0, 8), slice(8, 18)
"""Commands of the starter that are rehearsed, and those that are said in lessons."""

Change = Callable[[Sound], Sound]


def unchanged(sound: Sound) -> Sound:
    """Return what was said as it was said."""
    return sound


def microphone(sound: Sound) -> Sound:
    """Return what a cheap headset sends: 300 to 3,000 Hz, hissing."""
    filtered = sosfilt(butter(4, (300, 3000), "band", fs=SAMPLE_RATE, output="sos"), sound.astype(np.float64))
    return _whole(_hissing(np.asarray(filtered), 25.0))


def mask(sound: Sound) -> Sound:
    """Return what a thick mask lets through: little above 1.5 kHz."""
    low = sosfilt(butter(2, 1500, "low", fs=SAMPLE_RATE, output="sos"), sound.astype(np.float64))
    return _whole(0.9 * np.asarray(low) + 0.1 * sound)


def hoarse(sound: Sound) -> Sound:
    """Return a voice with a cold: a tenth deeper, its nose closed, breath in place of half of its tone."""
    slower = soxr.resample(sound.astype(np.float64), SAMPLE_RATE, SAMPLE_RATE * 1.1)
    closed = sosfilt(butter(2, (900, 1400), "bandstop", fs=SAMPLE_RATE, output="sos"), slower)
    loud = np.sqrt(np.convolve(np.asarray(closed) ** 2, np.full(320, 1 / 320), "same"))
    breath = np.random.default_rng(0).normal(size=len(closed)) * loud * 0.5
    return _whole(np.asarray(closed) + breath)


CHANGES: Mapping[str, Change] = {
    "nothing": unchanged,
    "another microphone": microphone,
    "a mask": mask,
    "a cold": hoarse,
}

Heard = dict[str, dict[str, list[float | None]]]
"""By what changed and by the loudness of the class: the log odds of each clip, None where nothing came."""


def heard_of(voice: str) -> tuple[float, Heard]:
    """Let a voice rehearse; return the odds of its rehearsal, and what is made of it in lessons."""
    words = vocabulary()
    takes: Takes = {
        words.cue or "": [say(words.cue or "", voice, pace) for pace in CUE_PACES],
        **{
            phrase: [say(phrase, voice, pace) for pace in (0.95, 1.05)] for phrase in words.phrases[REHEARSED]
        },
    }
    learnt = learn_voice(words, takes)
    heard: Heard = {}
    for name, change in CHANGES.items():
        for level in LEVELS:
            rng = np.random.default_rng((7, int(level), *voice.encode()))
            odds = []
            for phrase in words.phrases[SAID]:
                clip = place(change(say(f"{words.cue}, {phrase}", voice)), Condition(False, level), (), rng)
                found = [
                    one.confidence
                    for one in hear_whole(new_spotter(words, learnt)(), clip)
                    if one.phrase == phrase
                ]
                odds.append(bounded_odds(max(found)) if found else None)
            heard.setdefault(name, {})[f"{level:g}"] = odds
    return rehearsed_odds(commands_said(words, learnt, takes)) or 0.0, heard


def hear_all(path: Path, voices: Sequence[str] = SPEAKERS) -> dict[str, tuple[float, Heard]]:
    """Return what is made of each voice, from `path` if it was kept there."""
    if path.is_file():
        return {voice: (odds, heard) for voice, (odds, heard) in json.loads(path.read_text("utf-8")).items()}
    with multiprocessing.get_context("spawn").Pool(2) as pool:
        found = dict(zip(voices, pool.map(heard_of, voices, chunksize=1), strict=True))
    path.write_text(json.dumps(found), "utf-8")
    return found


def _hissing(sound: Floats, snr_db: float) -> Floats:
    power = np.sqrt(np.mean(sound**2)) * 10 ** (-snr_db / 20)
    return np.asarray(sound + np.random.default_rng(0).normal(0, power, len(sound)))


def _whole(sound: Floats) -> Sound:
    return np.asarray(np.clip(np.rint(sound), -32768, 32767), np.int16)
