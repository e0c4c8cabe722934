"""A Vosk model in memory: loaded once, proven in a child process first, and asked for the words it knows."""

import json
import threading
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from companion.errors import CompanionError
from companion.language import _
from companion.listening.sound import SAMPLE_RATE
from companion.models.layout import check_layout, require_dynamic
from companion.models.probe import probe_model, require_vosk

_UNKNOWN_SYMBOLS = ("[unk]", "<UNK>", "<unk>")
"""What models call a word that they don't know; which one is theirs depends on who made them."""
_loading = threading.Lock()


@dataclass(frozen=True, slots=True)
class VoskModel:
    """A loaded model. It may be shared by threads; a recogniser made from it may not."""

    path: Path
    native: Any
    """The `vosk.Model`."""
    unknown: str | None
    """The model's own symbol for a word that it doesn't know, or None."""

    def knows(self, word: str) -> bool:
        """Say whether a word (lower case) is in the model's vocabulary."""
        return bool(self.native.vosk_model_find_word(word) >= 0)

    def recogniser(self, grammar: list[str] | None = None) -> Any:  # noqa: ANN401 - the package has no types
        """Return a new recogniser for the phrases of `grammar`, or for everything."""
        import vosk  # noqa: PLC0415 - native code, only where it is used

        if grammar is None:
            return vosk.KaldiRecognizer(self.native, SAMPLE_RATE)
        return vosk.KaldiRecognizer(self.native, SAMPLE_RATE, json.dumps(grammar, ensure_ascii=False))


def load_model(path: Path, proofs: Path | None = None) -> VoskModel:
    """Load a model, or return the one that is loaded already.

    proofs: file in which is kept which models a child process has loaded without harm; a model whose
    files are as they were then is not tried again.
    Raises CompanionError when Vosk or a file is missing, when the graph is static, and when loading
    ends the child process.
    """
    with _loading:
        return _load(path.resolve(), proofs)


@lru_cache(maxsize=2)
def _load(path: Path, proofs: Path | None) -> VoskModel:
    require_vosk()
    require_dynamic(check_layout(path))
    _prove(path, proofs)
    import vosk  # noqa: PLC0415 - native code, only where it is used

    vosk.SetLogLevel(-1)
    native = vosk.Model(str(path))
    symbols = (symbol for symbol in _UNKNOWN_SYMBOLS if native.vosk_model_find_word(symbol) >= 0)
    return VoskModel(path, native, next(symbols, None))


def _prove(path: Path, proofs: Path | None) -> None:
    state = {file.as_posix(): _state(file) for file in sorted(path.rglob("*")) if file.is_file()}
    proven = _read(proofs)
    if proven.get(str(path)) == state:
        return
    probe_model(path)
    if proofs is None:
        return
    try:
        proofs.parent.mkdir(parents=True, exist_ok=True)
        proofs.write_text(json.dumps(proven | {str(path): state}), encoding="utf-8")
    except OSError as error:
        raise CompanionError(
            _(
                "The folder {folder} can't be written ({error}).",
                folder=proofs.parent,
                error=error.strerror,
            ),
            remedy=_("Make room on the disk, or name another folder with --home."),
        ) from error


def _state(file: Path) -> list[int]:
    status = file.stat()
    return [status.st_size, status.st_mtime_ns]


def _read(proofs: Path | None) -> dict[str, dict[str, list[int]]]:
    try:
        return dict(json.loads(proofs.read_text(encoding="utf-8"))) if proofs else {}
    except (OSError, ValueError):
        return {}
