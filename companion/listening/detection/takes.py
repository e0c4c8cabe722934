"""From the teacher's recordings to what a detector learns from: takes found in folders, and varied.

A take is one recording of one phrase. Variants of it put the phrase into other rooms, beneath the talk of a
class, a little faster or slower, so that five takes teach more than five sounds.
"""

from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from importlib import resources
from io import BytesIO
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.vocabulary import Vocabulary
from companion.listening.microphone import files as sound
from companion.listening.phonemes.acoustic_model import WINDOW_SAMPLES, window_ending
from companion.listening.sound import SAMPLE_RATE, Sound

CUE = "cue"
"""Name of the folder that holds the takes of the cue."""

_SUFFIXES = {".wav", ".flac", ".ogg", ".mp3"}

Takes = Mapping[str, Sequence[Sound]]
"""The takes of each phrase; those of the cue stand under the cue's own text."""

Floats = NDArray[np.float64]

_STEP = SAMPLE_RATE // 100
_SPEECH_ABOVE = 10 ** (-25 / 20)
"""A stretch of 10 ms whose level is less than 25 dB beneath the loudest belongs to the phrase."""
_LONGEST_PAUSE_S = 0.3
_LEVELS_DB = (-24.0, 3.0)
"""By how much a variant is louder than a peak of 10,000."""


def read_takes(folder: Path, vocabulary: Vocabulary) -> dict[str, list[Sound]]:
    """Read the takes of a folder.

    The recordings lie in one folder a phrase, named for it (`cue` for the cue). Recordings that lie in
    `folder` itself are takes of the cue, or of the only phrase where there is no cue.
    Raises CompanionError when the folder is missing or holds no take that fits the vocabulary.
    """
    if not folder.is_dir():
        raise CompanionError(
            _("There is no folder {folder}.", folder=folder),
            remedy=_("Give the folder that holds the takes."),
        )
    takes = {text: recordings(folder / name) for text, name in _folders(vocabulary).items()}
    plain = vocabulary.cue or (vocabulary.phrases[0] if len(vocabulary.phrases) == 1 else None)
    if plain and not takes[plain]:
        takes[plain] = recordings(folder)
    takes = {text: found for text, found in takes.items() if found}
    if not takes:
        raise CompanionError(
            _("{folder} holds no takes of these phrases.", folder=folder),
            remedy=_("Put WAV, FLAC, OGG or MP3 recordings into one folder a phrase, named for it."),
        )
    return takes


def _folders(vocabulary: Vocabulary) -> dict[str, str]:
    folders = {phrase: phrase for phrase in vocabulary.phrases}
    return folders | ({vocabulary.cue: CUE} if vocabulary.cue else {})


def recordings(folder: Path) -> list[Sound]:
    """Return the sound files that lie in `folder` itself, by name; none when there is no such folder."""
    return [sound.whole(path) for path in sound_files(folder)]


def sound_files(folder: Path) -> list[Path]:
    """Return the paths of the sound files that lie in `folder` itself, by name."""
    if not folder.is_dir():
        return []
    return sorted(path for path in folder.iterdir() if path.suffix.lower() in _SUFFIXES)


def speech_in(take: Sound, longest_pause_s: float = _LONGEST_PAUSE_S) -> tuple[int, int]:
    """Return where the phrase of a take begins and ends (samples): around the loudest moment, over pauses."""
    steps = len(take) // _STEP
    if not steps:
        return 0, len(take)
    level = np.sqrt(np.mean(take[: steps * _STEP].reshape(steps, _STEP).astype(np.float64) ** 2, axis=1))
    loud = np.flatnonzero(level > level.max() * _SPEECH_ABOVE)
    if not len(loud):
        return 0, len(take)
    runs = np.split(loud, np.flatnonzero(np.diff(loud) * _STEP > longest_pause_s * SAMPLE_RATE) + 1)
    strongest = max(runs, key=lambda run: float(np.sum(level[run] ** 2)))
    return int(strongest[0]) * _STEP, (int(strongest[-1]) + 1) * _STEP


def plain_windows(takes: Sequence[Sound], after_s: float = 0.3) -> NDArray[np.int16]:
    """Return one window for each take, in which the phrase ends `after_s` before the window does."""
    return np.stack([_window(take, after_s) for take in takes])


def varied_windows(
    takes: Sequence[Sound], each: int, rng: np.random.Generator, snr_db: tuple[float, float] = (0.0, 18.0)
) -> NDArray[np.int16]:
    """Return `each` variants of every take: windows with other speed, room and noise."""
    return np.stack([_variant(take, rng, snr_db) for take in takes for _ in range(each)])


def noisy(window: NDArray[np.int16], noise: Floats, snr_db: float) -> Sound:
    """Mix noise into a window at a signal-to-noise ratio over the window's loud parts."""
    return _whole(mixed(window.astype(np.float64), noise, snr_db))


def mixed(signal: Floats, noise: Floats, snr_db: float) -> Floats:
    """Return what `noisy` does, of a signal of any scale."""
    gain = np.sqrt(_active_power(signal) / (np.mean(noise**2) + 1e-9)) * 10 ** (-snr_db / 20)
    return np.asarray(signal + noise * gain, np.float64)


def room(rng: np.random.Generator, t60_s: tuple[float, float] = (0.15, 0.7)) -> Floats:
    """Return the impulse response of some room: the direct sound, then exponentially decaying noise.

    The reverberation is 2 dB above to 10 dB below the direct sound, as across a room or near the teacher.
    """
    t60 = rng.uniform(*t60_s)
    times = np.arange(int(SAMPLE_RATE * min(t60, 0.4))) / SAMPLE_RATE
    response = rng.normal(size=len(times)) * 10 ** (-3 * times / t60)
    response[: int(rng.uniform(0.001, 0.01) * SAMPLE_RATE)] = 0
    response *= 10 ** (rng.uniform(-10, 2) / 20) / np.sqrt(np.sum(response**2) + 1e-12)
    response[0] = 1
    return response


def in_room(window: Floats, response: Floats) -> Floats:
    """Return what a microphone at the other end of the room gets."""
    size = len(window) + len(response)
    spectrum = np.fft.rfft(window, size) * np.fft.rfft(response, size)
    return np.fft.irfft(spectrum, size)[: len(window)]


def babble(rng: np.random.Generator, samples: int = WINDOW_SAMPLES) -> Floats:
    """Return a stretch of the talk of sixteen voices (synthetic voices, made for this)."""
    recording = _babble()
    start = int(rng.integers(len(recording) - samples))
    return recording[start : start + samples]


def pieces(talk: Sequence[Sound], step: int = WINDOW_SAMPLES // 2) -> Iterator[Sound]:
    """Cut longer recordings into overlapping windows."""
    for recording in talk:
        for end in range(step, len(recording) + step, step):
            yield window_ending(recording, min(end, len(recording)))


@cache
def _babble() -> Floats:
    data = resources.files("companion.listening.detection").joinpath("babble.ogg").read_bytes()
    recording, _ = soundfile.read(BytesIO(data), dtype="float64")
    return np.asarray(recording, np.float64)


def somewhere(window: Floats, rng: np.random.Generator, snr_db: tuple[float, float] = (0.0, 18.0)) -> Sound:
    """Put a window into some room, beneath some noise, at the level of some microphone.

    Other speech goes through this as takes do: a classifier must not learn that noise means the phrase.
    """
    if rng.random() < 0.5:
        window = in_room(window, room(rng))
    scaled = _whole(window / (np.abs(window).max() + 1e-9) * 10_000)
    if rng.random() >= 0.25:
        noise = babble(rng) if rng.random() < 0.8 else coloured(rng)
        scaled = noisy(scaled, noise, rng.uniform(*snr_db))
    return _whole(scaled.astype(np.float64) * 10 ** (rng.uniform(*_LEVELS_DB) / 20))


def coloured(rng: np.random.Generator, samples: int = WINDOW_SAMPLES) -> Floats:
    """Return steady noise whose spectrum falls like that of fans, water and streets: power over f to f²."""
    spectrum = np.fft.rfft(rng.normal(size=samples))
    tilt = np.maximum(np.fft.rfftfreq(samples, 1 / SAMPLE_RATE), 60.0) ** (-rng.uniform(0.5, 1.0))
    return np.asarray(np.fft.irfft(spectrum * tilt, samples), np.float64)


def _variant(take: Sound, rng: np.random.Generator, snr_db: tuple[float, float]) -> Sound:
    speed = rng.uniform(0.9, 1.1)
    faster = _whole(soxr.resample(take.astype(np.float64), SAMPLE_RATE * speed, SAMPLE_RATE, quality="LQ"))
    return somewhere(_window(faster, rng.uniform(0.1, 0.5)).astype(np.float64), rng, snr_db)


def _window(take: Sound, after_s: float) -> Sound:
    end = speech_in(take)[1] + int(after_s * SAMPLE_RATE)
    padded = np.pad(take, (0, max(0, end - len(take))))
    return window_ending(padded, end)


def _active_power(signal: Floats) -> float:
    steps = signal[: len(signal) // (2 * _STEP) * 2 * _STEP].reshape(-1, 2 * _STEP)
    power = np.mean(steps**2, axis=1)
    return float(np.mean(power[power >= power.max() * 1e-3])) + 1e-9


def _whole(signal: Floats) -> Sound:
    return np.clip(np.rint(signal), -32768, 32767).astype(np.int16)
