"""Where speech models lie on this machine, those that Python packages bring among them."""

import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

from companion.models.manifest import find_entry
from companion.paths import Home, default_home

_PACKAGES = "[vV]osk[-_.]model[-_.]*.dist-info"
"""How packages that bring a Vosk model are written on the disk. Only these are opened: the running companion
asks for its engine with each status, and the name of every package stands in a file of its own."""
_MARK = ("am", "final.mdl")


@dataclass(frozen=True, slots=True)
class FoundModel:
    """A model that is on this machine; whether it is whole has not been checked."""

    name: str
    language: str | None
    """None when neither the manifest nor the name tells."""
    path: Path
    package: str | None
    """The Python package that brings it, or None for a folder of our own."""


def default_models() -> Path:
    """Return the folder for models in the home that the environment names, or in the usual one."""
    home = os.environ.get("COMPANION_HOME")
    return (Home(Path(home)) if home else default_home()).models


def find_models(folder: Path) -> tuple[FoundModel, ...]:
    """Return every model on this machine: those in `folder` first, then those from packages."""
    return (*_own_models(folder), *_package_models())


def find_model(name: str, folder: Path) -> FoundModel | None:
    """Return the model of that name; the name of the package that brings it does as well."""
    return next((found for found in find_models(folder) if name in (found.name, found.package)), None)


def model_for(language: str, folder: Path) -> FoundModel | None:
    """Return the first model on this machine for a language ("en-GB" counts as "en"), or None."""
    wanted = language.lower().replace("_", "-").partition("-")[0]
    return next((found for found in find_models(folder) if found.language == wanted), None)


def language_of(name: str) -> str | None:
    """Guess a model's language from its name, as in `vosk-model-small-es-0.42`, or return None."""
    entry = find_entry(name)
    if entry:
        return entry.language
    parts = [part for part in name.removeprefix("vosk-model-").split("-") if part != "small"]
    return parts[0] if parts and parts[0].isalpha() and len(parts[0]) in (2, 3) else None


def _own_models(folder: Path) -> Iterator[FoundModel]:
    if not folder.is_dir():
        return
    for path in sorted(folder.iterdir()):
        if not path.name.startswith(".") and path.joinpath(*_MARK).exists():
            yield FoundModel(path.name, language_of(path.name), path, None)


def _package_models() -> Iterator[FoundModel]:
    for info in (info for place in sys.path for info in sorted(Path(place).glob(_PACKAGES))):
        distribution = metadata.Distribution.at(info)
        package = distribution.name.lower().replace("_", "-")
        for file in distribution.files or ():
            if file.parts[-2:] == _MARK:
                path = Path(str(distribution.locate_file(file))).parent.parent
                yield FoundModel(package, language_of(package), path, package)
