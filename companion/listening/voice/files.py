"""What a rehearsal learnt of a voice, kept in a private file: numbers and no sound.

Voice features are personal data: 0600 in a folder of 0700, and deleted by one command.
"""

import io
import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.errors import CompanionError
from companion.language import _
from companion.listening.detection.detector import Detector
from companion.listening.phonemes.acoustic_model import MODEL
from companion.listening.voice.learnt import Learnt
from companion.listening.voice.speaker import Speaker
from companion.paths import private_folder, replace_file

FILE = "voice.npz"
REHEARSED = "takes.npz"
BEFORE = "before-"
"""How the files begin in which what was learnt before stands."""
COURSE_UNIT_DB = 0.25
"""In which the course of a take is kept."""
SYNTHETIC = "synthetic-"
"""How the files begin that hold nothing of the teacher, but what was learnt from synthetic voices."""


def keep(folder: Path, learnt: Learnt, rehearsed_odds: float | None = None) -> Path:
    """Write `learnt` into `folder` in place of what was there, and return the file.

    rehearsed_odds: how surely it was heard in the rehearsal (`drift`), where that is known.

    Raises CompanionError when the disk does not let us.
    """
    path = private_folder(folder) / FILE
    about = {
        "detectors": [detector_entry(detector) for detector in learnt.detectors],
        "commands": dict(learnt.commands),
        "speaker": speaker_entry(learnt.speaker) if learnt.speaker else None,
        "rehearsed_odds": rehearsed_odds,
    }
    write_features(path, about, {"weights": np.stack([detector.weights for detector in learnt.detectors])})
    return path


def set_aside(folder: Path) -> None:
    """Keep a copy of what was learnt, and of the takes that it was learnt from, before another comes.

    Raises CompanionError when the disk does not let us.
    """
    for path in _learnt_files(folder):
        if path.is_file():
            _put(path.with_name(f"{BEFORE}{path.name}"), path.read_bytes())


def go_back(folder: Path) -> bool:
    """Exchange what was learnt for what was learnt before it; False, with nothing done, where there is none.

    Done twice, all is as it was. Raises CompanionError when the disk does not let us.
    """
    if not (folder / f"{BEFORE}{FILE}").is_file():
        return False
    for path in _learnt_files(folder):
        before = path.with_name(f"{BEFORE}{path.name}")
        if before.is_file() and path.is_file():
            earlier, later = before.read_bytes(), path.read_bytes()
            _put(path, earlier)
            _put(before, later)
    return True


def _learnt_files(folder: Path) -> tuple[Path, Path]:
    return folder / FILE, folder / REHEARSED


def _put(path: Path, content: bytes) -> None:
    """Write a private file in place of an earlier one. Raises CompanionError when the disk fails."""
    try:
        replace_file(path, content)
    except OSError as error:
        raise CompanionError(
            _(
                "The voice features can't be written to {path} ({error}).",
                path=path,
                error=error.strerror,
            ),
            safe=_("What was kept before is as it was."),
            remedy=_("Free or unlock the disk."),
        ) from error


def write_features(path: Path, about: dict[str, Any], arrays: Mapping[str, NDArray[Any]]) -> None:
    """Write numbers of this model and what they are about into a private file, in place of an earlier one.

    Raises CompanionError when the disk does not let us.
    """
    parts: dict[str, Any] = {"about": np.array(json.dumps({"model": MODEL, **about})), **arrays}
    written = io.BytesIO()
    np.savez_compressed(written, **parts)
    _put(path, written.getvalue())


def is_learnt(folder: Path) -> bool:
    """Return whether what was learnt of a voice is kept in `folder`."""
    return (folder / FILE).is_file()


def recall(folder: Path) -> Learnt | None:
    """Return what is kept in `folder`, or None if nothing is.

    Raises CompanionError when the file is damaged, or of another model.
    """
    if not is_learnt(folder):
        return None
    path = folder / FILE
    damaged = _("The voice features in {path} are damaged.", path=path)
    with reading(path, damaged, _("Rehearse again: companion rehearse --takes FOLDER")) as stored:
        about, weights = json.loads(str(stored["about"])), stored["weights"]
        if about.get("model") != MODEL:
            raise CompanionError(
                _("Your voice was learnt by another version of the companion, which heard it differently."),
                safe=_("Nothing else is lost."),
                remedy=_("Rehearse again: companion rehearse"),
            )
        plain = [detector_of(entry, weights[row]) for row, entry in enumerate(about["detectors"])]
        commands = {phrase: _chains(ways) for phrase, ways in about["commands"].items()}
        speaker = speaker_of(about["speaker"]) if about.get("speaker") else None
    return Learnt(tuple(plain), commands, speaker)


def recall_rehearsed_odds(folder: Path) -> float | None:
    """Return what `keep` was told of the rehearsal; None where nothing was, or can be read."""
    with suppress(CompanionError), reading(folder / FILE, "", "") as stored:
        odds = json.loads(str(stored["about"])).get("rehearsed_odds")
        return None if odds is None else float(odds)
    return None


@contextmanager
def reading(path: Path | Traversable, damaged: str, remedy: str) -> Iterator[Mapping[str, NDArray[Any]]]:
    """Lend the numbers in a file; tell by a CompanionError that the block can't read them: `damaged`.

    What zip files and NumPy raise for bytes that are none of theirs is no short list. NumPy leaves such a
    file open that it opened by itself.
    """
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as stored:
            yield stored
    except CompanionError:
        raise
    except Exception as error:
        raise CompanionError(
            damaged,
            safe=_("Nothing else is."),
            remedy=remedy,
        ) from error


def forget(folder: Path) -> bool:
    """Delete all that is kept of a voice in `folder`, features of takes too; return whether there was any.

    A cue learnt from synthetic voices is nothing of the teacher's, and stays.
    """
    if not folder.is_dir():
        return False
    of_the_teacher = [path for path in folder.iterdir() if not path.name.startswith(SYNTHETIC)]
    for path in of_the_teacher:
        path.unlink()
    if not any(folder.iterdir()):
        folder.rmdir()
    return bool(of_the_teacher)


def detector_entry(detector: Detector) -> dict[str, Any]:
    """Return a detector as JSON has it, but for its weights."""
    return {
        "phrase": detector.phrase,
        "chains": detector.chains,
        "bias": detector.bias,
        "fires_at": detector.fires_at,
        "slope": detector.slope,
    }


def detector_of(entry: dict[str, Any], weights: NDArray[np.float64]) -> Detector:
    """Return the detector that `detector_entry` wrote. Raises KeyError where it is damaged."""
    return Detector(
        phrase=entry["phrase"],
        chains=_chains(entry["chains"]),
        weights=weights,
        bias=entry["bias"],
        fires_at=entry["fires_at"],
        slope=entry["slope"],
    )


def speaker_entry(speaker: Speaker) -> dict[str, Any]:
    """Return a voice as JSON has it."""
    return {
        "direction": np.round(speaker.direction, 4).tolist(),
        "pitch_hz": round(speaker.pitch_hz, 1),
        "speech_s": round(speaker.speech_s, 2),
        "alike": round(speaker.alike, 4),
        "courses": [np.rint(course / COURSE_UNIT_DB).astype(int).tolist() for course in speaker.courses],
        "among": round(speaker.among, 1),
    }


def speaker_of(entry: dict[str, Any]) -> Speaker:
    """Return the voice that `speaker_entry` wrote. Raises KeyError or ValueError where it is damaged."""
    return Speaker(
        np.array(entry["direction"], np.float32),
        float(entry["pitch_hz"]),
        float(entry["speech_s"]),
        float(entry.get("alike", 0.0)),
        tuple(
            np.array(course, np.float32) * np.float32(COURSE_UNIT_DB) for course in entry.get("courses", ())
        ),
        float(entry.get("among", 0.0)),
    )


def _chains(written: list[list[str]]) -> tuple[tuple[str, ...], ...]:
    return tuple(tuple(chain) for chain in written)
