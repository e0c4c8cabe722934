"""The sample sessions as they lie in the repository."""

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile as sf
from numpy.typing import NDArray

from companion.samples.sample import Sample, load_sample

SAMPLES = Path(__file__).parents[2] / "sample_sessions"
NAMES = sorted(path.parent.name for path in SAMPLES.glob("*/plan.toml"))


@dataclass(frozen=True)
class Lesson:
    """One sample session with everything that a test looks at."""

    folder: Path
    sample: Sample
    truth: dict[str, list[dict[str, Any]]]
    sound: NDArray[np.int16]
    readme: str

    @property
    def spoken(self) -> list[dict[str, Any]]:
        """The true commands."""
        return self.truth["spoken"]

    @property
    def talk(self) -> list[dict[str, Any]]:
        """The speech that must not count."""
        return self.truth["talk"]


def lesson_of(name: str) -> Lesson:
    """Return the sample session in the folder `name`."""
    folder = SAMPLES / name
    sound, rate = sf.read(folder / "sound.ogg", dtype="int16")
    assert rate == 16_000
    return Lesson(
        folder,
        load_sample(folder),
        tomllib.loads((folder / "truth.toml").read_text(encoding="utf-8")),
        sound,
        (folder / "README.md").read_text(encoding="utf-8"),
    )


@pytest.fixture(scope="session", params=NAMES)
def lesson(request: pytest.FixtureRequest) -> Lesson:
    """Each of the sample sessions."""
    return lesson_of(request.param)


@pytest.fixture(scope="session")
def hard_afternoon() -> Lesson:
    """Give the lesson that goes badly."""
    return lesson_of("hard-afternoon")
