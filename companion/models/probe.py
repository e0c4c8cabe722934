"""Loads a model in a child process: a broken one ends the child, never the lesson."""

import json
import os
import subprocess
import sys
import time
from dataclasses import asdict, dataclass
from importlib.util import find_spec
from pathlib import Path

import psutil

from companion.errors import CompanionError
from companion.language import _
from companion.models.layout import check_layout, require_dynamic
from companion.parent import end_with

_LIMIT_S = 120.0
_MEGABYTE = 1_000_000


@dataclass(frozen=True, slots=True)
class ModelFigures:
    """What a model costs on this machine."""

    load_s: float
    resident_mb: float
    """Growth of the process's resident memory by model, one recogniser and a second of sound."""


def probe_model(path: Path) -> ModelFigures:
    """Check the files of a model, then load it and decode a second of silence in a child process.

    Raises CompanionError when files are missing, when the child crashes, or when it takes longer
    than two minutes.
    """
    require_vosk()
    require_dynamic(check_layout(path))
    command = [sys.executable, "-m", "companion.models.probe", str(path), str(os.getpid())]
    try:
        child = subprocess.run(  # noqa: S603 - our own interpreter and module
            command, capture_output=True, text=True, timeout=_LIMIT_S, check=False
        )
    except subprocess.TimeoutExpired:
        raise _unusable(_("The speech model in {path} did not load within two minutes.", path=path)) from None
    if child.returncode != 0:
        raise _unusable(
            _(
                "The speech model in {path} could not be loaded by the recogniser; its files are damaged or "
                "of another kind.",
                path=path,
            )
        )
    figures = json.loads(child.stdout.splitlines()[-1])
    return ModelFigures(load_s=figures["load_s"], resident_mb=figures["resident_mb"])


def require_vosk() -> None:
    """Raise CompanionError when the Vosk engine is not installed."""
    if find_spec("vosk") is None:
        raise CompanionError(
            _("The Vosk engine is not installed."),
            remedy=_("Install lesson-companion anew."),
        )


def measure(path: Path) -> ModelFigures:
    """Load a model in this process and return what it costs; native code may end the process."""
    import vosk  # noqa: PLC0415 - native code, only where it is used

    vosk.SetLogLevel(-1)
    process = psutil.Process()
    before = process.memory_info().rss
    began = time.perf_counter()
    model = vosk.Model(str(path))
    load_s = time.perf_counter() - began
    recogniser = vosk.KaldiRecognizer(model, 16_000)
    recogniser.AcceptWaveform(bytes(2 * 16_000))
    recogniser.FinalResult()
    return ModelFigures(load_s=load_s, resident_mb=(process.memory_info().rss - before) / _MEGABYTE)


def _unusable(what: str) -> CompanionError:
    return CompanionError(
        what,
        safe=_("Nothing else was touched."),
        remedy=_("Remove it and get it again with `companion models get`, or take another copy."),
    )


if __name__ == "__main__":
    end_with(int(sys.argv[2]))
    print(json.dumps(asdict(measure(Path(sys.argv[1])))))
