"""What is remembered about models: the checksum of each archive, and of each installed file."""

import hashlib
import json
from pathlib import Path

from pydantic import BaseModel, ConfigDict, TypeAdapter

from companion.errors import CompanionError
from companion.language import _
from companion.paths import replace_file

_PINS = TypeAdapter(dict[str, str])


class Receipt(BaseModel):
    """What was installed, as it was right after unpacking."""

    model_config = ConfigDict(frozen=True)

    name: str
    source: str
    """Address, file or folder that it came from."""
    archive_sha256: str | None
    """None when it came as a folder."""
    files: dict[str, str]
    """SHA-256 of each file by its path inside the model's folder."""


def file_sha256(path: Path) -> str:
    """Return the SHA-256 of a file in hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def folder_sums(folder: Path) -> dict[str, str]:
    """Return the SHA-256 of every file below `folder`, by its path with forward slashes."""
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): file_sha256(path) for path in files}


def write_receipt(models: Path, receipt: Receipt) -> None:
    """Keep `receipt` beside the models."""
    path = _receipt_path(models, receipt.name)
    path.parent.mkdir(parents=True, exist_ok=True)
    _replace(path, receipt.model_dump_json(indent=1))


def read_receipt(models: Path, name: str) -> Receipt | None:
    """Return the receipt of a model, or None when there is none that can be read."""
    try:
        return Receipt.model_validate_json(_receipt_path(models, name).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None


def drop_receipt(models: Path, name: str) -> None:
    """Forget what was installed; the pinned checksum stays."""
    _receipt_path(models, name).unlink(missing_ok=True)


def pinned_sha256(models: Path, name: str) -> str | None:
    """Return the checksum that the first fetch of this archive had, or None.

    Raises CompanionError if what is kept of it can't be read.
    """
    return _pins(models).get(name)


def pin_sha256(models: Path, name: str, sha256: str) -> None:
    """Remember the checksum of an archive for every later fetch."""
    path = _pins_path(models)
    path.parent.mkdir(parents=True, exist_ok=True)
    _replace(path, json.dumps(_pins(models) | {name: sha256}, indent=1))


def _pins(models: Path) -> dict[str, str]:
    path = _pins_path(models)
    try:
        return _PINS.validate_json(path.read_bytes()) if path.exists() else {}
    except (OSError, ValueError) as error:
        # Without it any archive would pass for the one that was fetched before.
        raise CompanionError(
            _("The checksums of models in {path} are damaged.", path=path),
            safe=_("No model was changed."),
            remedy=_("Delete that file; each model is then checked from its next fetch on."),
        ) from error


def _pins_path(models: Path) -> Path:
    return models / ".receipts" / "pinned.json"


def _receipt_path(models: Path, name: str) -> Path:
    return models / ".receipts" / f"{name}.receipt.json"


def _replace(path: Path, text: str) -> None:
    replace_file(path, text.encode())
