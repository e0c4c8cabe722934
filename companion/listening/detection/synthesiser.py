"""Says a phrase in many synthetic voices, so that a cue is learnt before anybody has rehearsed it.

The synthesiser is espeak-ng, which is GPL: it is no part of the companion, comes only with the extra
`voices` (or from the system, as a program), and runs in a process of its own.
"""

import io
import json
import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from importlib.util import find_spec

import numpy as np
import soxr

from companion.access import NO_WINDOW
from companion.errors import CompanionError
from companion.language import _
from companion.listening.sound import SAMPLE_RATE, Sound

RATE = 22_050
"""Samples in a second of what espeak-ng says."""
_LONGEST_S = 60


@dataclass(frozen=True, slots=True)
class Manner:
    """A voice of espeak-ng, and how it speaks."""

    voice: str
    words_a_minute: int
    pitch: int
    """0 to 99."""


_VOICES = (
    "en-us", "en-us+f1", "en-us+f2", "en-us+f3", "en-us+f4", "en-us+f5", "en-us+m1", "en-us+m2", "en-us+m3",
    "en-us+m4", "en-us+m5", "en-us+m7", "en-us+m8", "en-us+linda", "en-us+steph", "en-us+Annie", "en-us+max",
    "en-us+belinda", "en-us+aunty", "en-us+grandma", "en-us+klatt2", "en-us+klatt4", "en-us+Andrea",
    "en-us-nyc+f2", "en-us-nyc+m3", "en-gb", "en-gb+f2", "en-gb+m4", "en-gb-scotland+f1", "en-gb-scotland+m1",
    "en-gb-x-rp+f4", "en-gb-x-rp+m7", "en-gb-x-gbclan+m2", "en-gb-x-gbcwmd+f3", "en-029+f1", "en-029+m3",
)  # fmt: skip
_PACES = (150, 125, 175)
_PITCHES = (50, 35, 65, 80)
MANNERS = tuple(
    Manner(voice, _PACES[number % len(_PACES)], _PITCHES[number % len(_PITCHES)])
    for number, voice in enumerate(_VOICES)
)


def is_installed() -> bool:
    """Say whether there is a synthesiser, as a package or as a program."""
    return find_spec("espeakng_loader") is not None or shutil.which("espeak-ng") is not None


def say(phrase: str, manners: Sequence[Manner] = MANNERS) -> list[Sound]:
    """Say the phrase in each of the manners.

    Raises CompanionError where there is no synthesiser, and where it fails.
    """
    if not is_installed():
        raise CompanionError(
            _("There is no synthesiser to say your cue."),
            remedy=_("Install lesson-companion[voices], or rehearse with your own voice: companion rehearse"),
        )
    by_package = find_spec("espeakng_loader") is not None
    try:
        return list(_by_package(phrase, manners) if by_package else _by_program(phrase, manners))
    except (OSError, ValueError, subprocess.SubprocessError) as error:
        raise CompanionError(
            _("The synthesiser failed on “{phrase}”.", phrase=phrase),
            safe=_("What was learnt before is as it was."),
            remedy=_("Rehearse with your own voice: companion rehearse"),
        ) from error


def _by_package(phrase: str, manners: Sequence[Manner]) -> Iterator[Sound]:
    wanted = json.dumps({"phrase": phrase, "manners": [asdict(manner) for manner in manners]})
    said = subprocess.run(
        [sys.executable, "-m", "companion.listening.detection.espeak"],
        input=wanted.encode(),
        capture_output=True,
        check=True,
        timeout=_LONGEST_S,
    )
    with np.load(io.BytesIO(said.stdout), allow_pickle=False) as stored:
        for number in range(len(manners)):
            yield _at_our_rate(stored[f"said{number}"], int(stored["rate"]))


def _by_program(phrase: str, manners: Sequence[Manner]) -> Iterator[Sound]:
    program = shutil.which("espeak-ng") or "espeak-ng"
    for manner in manners:
        said = subprocess.run(  # noqa: S603 - no shell between
            [
                program, "-v", manner.voice, "-s", str(manner.words_a_minute), "-p", str(manner.pitch),
                "--stdout", "--", phrase,
            ],
            capture_output=True,
            check=True,
            timeout=_LONGEST_S,
            creationflags=NO_WINDOW,
        )  # fmt: skip
        # The header of a stream doesn't know its length: the samples follow it to the end.
        samples = said.stdout[44 : 44 + (len(said.stdout) - 44) // 2 * 2]
        yield _at_our_rate(np.frombuffer(samples, "<i2"), RATE)


def _at_our_rate(said: Sound, rate: int) -> Sound:
    if not len(said):
        raise ValueError("nothing was said")
    resampled = soxr.resample(said.astype(np.float64), rate, SAMPLE_RATE)
    return np.asarray(np.clip(np.rint(resampled), -32768, 32767), np.int16)
