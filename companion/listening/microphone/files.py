"""Reads any sound file as the one kind of sound that the companion works on, a block at a time."""

from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from companion.errors import CompanionError
from companion.language import _, decimal, later
from companion.listening.sound import SAMPLE_RATE, Sound

_SHORT_CHUNK = "(should be"
"""What libsndfile notes of a WAV file whose header promises more than the file holds."""

_REMEDY = later(
    "WAV, FLAC, OGG and MP3 are read; make one of them of another kind with: ffmpeg -i RECORDING new.wav"
)


def duration_s(path: Path) -> float:
    """Return how long the sound file says it is, in seconds.

    Raises CompanionError when the file is missing or is not sound.
    """
    with _opened(path) as file:
        return float(file.frames / file.samplerate)


def blocks(path: Path, *, block_ms: int = 100, warn: Callable[[str], None] | None = None) -> Iterator[Sound]:
    """Yield the file's sound at 16 kHz, one channel, 16 bits, in blocks of about `block_ms`.

    Any rate, width and channel count; channels are averaged. Memory does not grow with the file. A
    file that breaks off yields what it holds and then calls `warn` with one sentence.
    Raises CompanionError when the file is missing, is not sound, or holds none.
    """
    with _opened(path) as file:
        resampler = soxr.ResampleStream(file.samplerate, SAMPLE_RATE, 1, dtype="float32")
        frames = max(1, file.samplerate * block_ms // 1000)
        heard = 0
        broken = False
        while not broken:
            try:
                read = file.read(frames, dtype="float32", always_2d=True)
            except soundfile.LibsndfileError:
                broken = True
                break
            if not len(read):
                break
            heard += len(read)
            yield from _whole_numbers(resampler.resample_chunk(read.mean(axis=1)))
        yield from _whole_numbers(resampler.resample_chunk(np.zeros(0, np.float32), last=True))
        if not heard:
            raise CompanionError(_("{path} holds no sound.", path=path), remedy=_(_REMEDY))
        if warn and (broken or heard < file.frames or _SHORT_CHUNK in file.extra_info):
            seconds = decimal(heard / file.samplerate, 1)
            warn(
                _("{path} breaks off after {seconds} s; what it holds was used.", path=path, seconds=seconds)
            )


def whole(path: Path, *, warn: Callable[[str], None] | None = None) -> Sound:
    """Return the whole file's sound as one array; for short recordings. Raises as `blocks` does."""
    return np.concatenate(list(blocks(path, warn=warn)))


def _opened(path: Path) -> soundfile.SoundFile:
    if not path.is_file():
        raise CompanionError(_("There is no sound file {path}.", path=path), remedy=_("Check the name."))
    if not path.stat().st_size:
        raise CompanionError(_("{path} is empty.", path=path), remedy=_(_REMEDY))
    try:
        return soundfile.SoundFile(path)
    except (soundfile.LibsndfileError, TypeError) as error:
        # TypeError: a name that ends in .raw, which tells soundfile nothing about rate and width.
        raise CompanionError(
            _("{path} is not a sound file that can be read.", path=path), remedy=_(_REMEDY)
        ) from error


def _whole_numbers(block: NDArray[np.float32]) -> Iterator[Sound]:
    if len(block):
        yield np.clip(np.rint(block * 32768), -32768, 32767).astype(np.int16)
