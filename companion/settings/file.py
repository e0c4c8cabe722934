"""Changes to `companion.toml` by the program: comments and order are kept, and nothing invalid is written."""

import os
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

import tomlkit
from tomlkit.items import AoT, Array

from companion.errors import CompanionError
from companion.settings.settings import Settings, load_settings, parse_settings


def edit(path: Path, change: Callable[[tomlkit.TOMLDocument], None]) -> Settings:
    """Apply `change` to the settings file at `path` and return the new settings.

    Raises CompanionError, with the file as it was, when it can't be read or written or would be invalid.
    """
    load_settings(path)
    document = tomlkit.parse(path.read_text(encoding="utf-8"))
    change(document)
    text = tomlkit.dumps(document)
    settings = parse_settings(text, str(path))
    replace(path, text)
    return settings


def append_table(document: tomlkit.TOMLDocument, name: str, values: Mapping[str, str]) -> None:
    """Add `values` to the `[[name]]` tables of `document`, in the form in which it has them already."""
    present = document.get(name)
    if isinstance(present, Array) and present:
        inline = tomlkit.inline_table()
        inline.update(values)
        present.append(inline)
        return
    if isinstance(present, Array):
        del document[name]
    table = tomlkit.table()
    table.update(values)
    table.add(tomlkit.nl())
    if name not in document:
        document.add(tomlkit.nl())
        document.add(name, tomlkit.aot())
    tables = document[name]
    assert isinstance(tables, AoT)
    tables.append(table)


def replace(path: Path, text: str) -> None:
    """Write `text` beside `path`, private to the user, and put it in its place.

    A power cut leaves one or the other. Raises CompanionError, with the file as it was, when the disk does
    not take it.
    """
    try:
        descriptor, beside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(descriptor, "w", encoding="utf-8", newline="") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            Path(beside).replace(path)
        finally:
            Path(beside).unlink(missing_ok=True)
    except OSError as error:
        raise CompanionError(
            f"The settings file {path} can't be written ({error.strerror}).",
            safe="It is as it was.",
            remedy="Free or unlock the disk and try again.",
        ) from error
