"""The manifest of speech models that are worth fetching: `models/manifest.toml`."""

import tomllib
from functools import cache
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from companion.errors import CompanionError
from companion.language import _
from companion.paths import bundled

SHA256_PATTERN = r"^[0-9a-f]{64}$"


class ModelEntry(BaseModel):
    """One model of the manifest."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str = Field(pattern=r"^[a-z0-9][a-z0-9._-]*$")
    """Also the name of its folder."""
    language: str = Field(pattern=r"^[a-z]{2,3}$")
    """Language code as in a vocabulary (ISO 639)."""
    licence: str
    origin: str
    """Who made it, in plain words."""
    address: str | None = Field(default=None, pattern=r"^https://")
    """Where the archive is fetched; None when only a Python package brings the model."""
    package: str | None = None
    """The Python package that brings the same model, if there is one."""
    archive_bytes: int | None = Field(default=None, gt=0)
    """Exact size of the archive, where it is known."""
    archive_mb: int = Field(gt=0)
    """Size of the archive as its makers state it, in megabytes."""
    unpacked_mb: int = Field(gt=0)
    sha256: str | None = Field(default=None, pattern=SHA256_PATTERN)
    """Checksum of the archive that was confirmed by a real download, or None."""
    reported_sha256: str | None = Field(default=None, pattern=SHA256_PATTERN)
    """Checksum found in other people's public scripts and never confirmed here, or None."""
    tested: str
    """What has been tried with this model, and what has not."""

    @property
    def checksum_words(self) -> str:
        """Return in a word how far the checksum can be trusted."""
        if self.sha256:
            return _("known")
        if self.reported_sha256:
            return _("unconfirmed")
        return _("none yet")


class _Manifest(BaseModel):
    model_config = ConfigDict(extra="forbid")
    model: list[ModelEntry]


def read_manifest(path: Path) -> tuple[ModelEntry, ...]:
    """Read a manifest; raise CompanionError with file and key when it is wrong."""
    try:
        entries = _Manifest.model_validate(tomllib.loads(path.read_text(encoding="utf-8"))).model
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise CompanionError(
            _("The list of models {path} can't be read: {error}.", path=path, error=error)
        ) from error
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise CompanionError(
            _(
                "The list of models {path} is wrong at {where}: {error}.",
                path=path,
                where=where,
                error=first["msg"],
            )
        ) from error
    return tuple(entries)


@cache
def known_models() -> tuple[ModelEntry, ...]:
    """Return the models of the companion's own manifest."""
    return read_manifest(bundled("models") / "manifest.toml")


def find_entry(name: str) -> ModelEntry | None:
    """Return the manifest's entry of that name (of the model, or of the package that brings it)."""
    return next((entry for entry in known_models() if name in (entry.name, entry.package)), None)
