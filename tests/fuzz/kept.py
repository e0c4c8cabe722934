"""The files that the companion keeps between two runs: what rightly stands in each, and who reads it."""

import io
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
from hypothesis import strategies as st

from companion.background.control import ask
from companion.clock import ComputerClock
from companion.errors import CompanionError
from companion.listening.phonemes.acoustic_model import MODEL
from companion.listening.voice.cues import synthetic_cue
from companion.listening.voice.features import recall_features
from companion.listening.voice.files import FILE, REHEARSED, recall
from companion.log.codec import row_of
from companion.log.drafts import Draft, Drafts
from companion.log.forget import one_child
from companion.log.store import open_log
from companion.models.receipts import pinned_sha256, read_receipt
from companion.pages.keys import Doorway
from companion.pages.setup.steps import WayIn
from companion.paths import Home
from companion.recording.heartbeat import Heartbeat
from companion.recording.rescue import RescueFile, forget_rescued
from companion.settings.pictures import Pictures
from tests.fuzz.made_up import JSON, altered, spliced, touched
from tests.pages.lessons import BODIES as LESSON
from tests.pages.lessons import write_lesson

CUE = "garden trowel"
"""No cue that comes with the companion, so that the home's own file is read."""
SPEAKER = {"direction": [0.5, 0.5], "pitch_hz": 190.0, "speech_s": 1.5}
DETECTOR = {"phrase": CUE, "chains": [["g", "aa"]], "bias": 0.1, "fires_at": 1.0, "slope": 1.0}


@dataclass(frozen=True, slots=True)
class KeptFile:
    """One of the files."""

    place: str
    """In the home folder."""
    given: st.SearchStrategy[bytes]
    read: Callable[[Home], object]


def of_json(place: str, document: Any, read: Callable[[Home], object]) -> KeptFile:  # noqa: ANN401 - any JSON
    """Return a file that holds a JSON document."""
    whole = json.dumps(document).encode()
    return KeptFile(place, (altered(document) | JSON).map(_as_json) | spliced(whole), read)


def of_numbers(
    place: str, about: dict[str, Any], arrays: dict[str, list[Any]], read: Callable[[Home], object]
) -> KeptFile:
    """Return a file with features of a voice."""
    whole = _numbers(about, arrays)
    given = (
        spliced(whole)
        | touched(whole)
        | altered(about).map(lambda other: _numbers(other, arrays))
        | altered(arrays).map(lambda other: _numbers(about, other))
    )
    return KeptFile(place, given, read)


def _as_json(document: Any) -> bytes:  # noqa: ANN401
    return json.dumps(document).encode()


def _numbers(about: Any, arrays: Any) -> bytes:  # noqa: ANN401 - what was made up
    parts: dict[str, Any] = {"about": np.array(json.dumps(about))}
    for name, numbers in arrays.items() if isinstance(arrays, dict) else ():
        with suppress(ValueError, TypeError, OverflowError):
            made = np.array(numbers)
            parts[name] = made if made.dtype != object else np.array(str(numbers))
    written = io.BytesIO()
    with suppress(ValueError, TypeError):
        np.savez(written, **{name: part for name, part in parts.items() if "/" not in name and name})
    return written.getvalue()


@cache
def _lesson_lines() -> bytes:
    """Return a rescue file that holds a lesson."""
    with TemporaryDirectory() as name:
        path = Path(name) / "sessions.db"
        session = write_lesson(path, *LESSON).id
        with open_log(path) as log:
            return b"".join(json.dumps(row_of(event)).encode() + b"\n" for event in log.events(session))


@cache
def _drafts() -> bytes:
    with TemporaryDirectory() as name:
        drafts = Drafts(Path(name) / "sessions.db")
        drafts.keep("day/plans", "name", Draft("K. T. helped", ""))
        return drafts.path.read_bytes()


def _take_up(home: Home) -> None:
    """Take up a rescue file as a start does, and look for a child in it as forgetting does."""
    with suppress(CompanionError), open_log(home.log) as log:
        RescueFile.beside(home.log).take_up(log)
    forget_rescued(home.log, one_child("K. T."))
    for left in home.folder.glob("sessions*"):
        left.unlink()


def _asked(home: Home) -> None:
    ask(home.control, {"do": "status"})


def _read_drafts(home: Home) -> None:
    drafts = Drafts(home.log)
    drafts.all()
    drafts.forget_words(["K. T."])


LOOKS = {"costs": [[[0.1, 0.2]], [[0.1, 0.2]]], "embeddings": [[[0.5]], [[0.5]]]}

FILES = [
    of_json(
        "run/pages.json",
        {"port": 4000, "secret": "ab" * 32, "day": "2026-11-28"},
        lambda home: Doorway.recall(home, ComputerClock().wall().date()),
    ),
    of_json("run/control.json", {"port": 1, "key": "ab" * 32}, _asked),
    of_json(
        "sessions.beat",
        {"session": "01ABC", "ms": 400, "at": "2026-11-28T10:00:00+00:00"},
        lambda home: Heartbeat(home.folder / "sessions.beat").last("01ABC"),
    ),
    of_json("way_in.json", {"done": ["school"], "left": False, "over": False}, WayIn.recall),
    of_json(
        "pictures/pictures.json",
        {"phase cleanup": "0a.jpg"},
        lambda home: Pictures(home.pictures).name_of("phase cleanup"),
    ),
    of_json(
        "models/.receipts/small.receipt.json",
        {"name": "small", "source": "a file", "archive_sha256": None, "files": {"conf": "ab"}},
        lambda home: read_receipt(home.models, "small"),
    ),
    of_json(
        "models/.receipts/pinned.json", {"small": "ab" * 32}, lambda home: pinned_sha256(home.models, "small")
    ),
    of_numbers(
        f"voice/{FILE}",
        {"model": MODEL, "detectors": [DETECTOR], "commands": {"praise": [["p"]]}, "speaker": SPEAKER},
        {"weights": [[0.1, 0.2]]},
        lambda home: recall(home.voice),
    ),
    of_numbers(
        f"voice/{REHEARSED}",
        {"model": MODEL, "phrases": [CUE], "windows": [1, 1], "speakers": [SPEAKER]},
        LOOKS,
        lambda home: recall_features(home.voice),
    ),
    of_numbers(
        "voice/synthetic-garden-trowel.npz",
        {"model": MODEL, "detector": DETECTOR, "unit": 0.1, "pitches_hz": [190.0], "speech_s": [1.0]},
        {"weights": [0.1], "seen": [[1]], "directions": [[0.5]], "warped": [[[0.5]]]},
        lambda home: synthetic_cue(CUE, home.voice),
    ),
    KeptFile("sessions-rescue.jsonl", st.deferred(lambda: spliced(_lesson_lines())), _take_up),
    KeptFile("drafts.db", st.deferred(lambda: spliced(_drafts()) | touched(_drafts())), _read_drafts),
]

GIVEN = st.sampled_from(range(len(FILES))).flatmap(lambda one: st.tuples(st.just(one), FILES[one].given))
"""The number of a file, and what stands in it."""


@contextmanager
def reading(folder: Path) -> Iterator[Callable[[tuple[int, bytes]], object]]:
    """Read one of the files, whatever is in it."""
    home = Home(folder / "home").create()

    def read(case: tuple[int, bytes]) -> None:
        number, content = case
        kept = FILES[number]
        path = home.folder / kept.place
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        try:
            kept.read(home)
        finally:
            path.unlink(missing_ok=True)

    yield read
