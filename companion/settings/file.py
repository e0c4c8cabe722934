"""Changes to `companion.toml` by the program: comments and order are kept, and nothing invalid is written."""

from collections.abc import Callable, Mapping
from pathlib import Path

import tomlkit
import tomlkit.exceptions
from tomlkit.items import AoT, Array, InlineTable, Table

from companion.errors import CompanionError
from companion.language import _
from companion.paths import replace_file
from companion.settings.problem import Problem
from companion.settings.settings import Settings, not_toml, parse_settings, problems_in, read_text


def edit(
    path: Path, change: Callable[[tomlkit.TOMLDocument], None], *, mending: str | None = None
) -> Settings:
    """Apply `change` to the settings file at `path` and return the new settings.

    mending: name of the tables that are being mended: the file may be invalid before, and they may be so
    afterwards as well, so that several mistakes can be taken out one by one; the rest is valid.

    Raises CompanionError, with the file as it was, when it can't be read or written or would be invalid. If
    only the tables that are mended are still invalid, it is raised with the file changed.
    """
    text = read_text(path)
    if mending is None:
        parse_settings(text, str(path))
    document = parse_document(text, str(path))
    change(document)
    text = tomlkit.dumps(document)
    try:
        settings = parse_settings(text, str(path))
    except CompanionError:
        if mending is None:
            raise
        parse_settings(_without(text, mending), str(path))
        replace(path, text)
        raise
    replace(path, text)
    return settings


class NotValidError(CompanionError):
    """A change that would make something of the settings wrong; the file is as it was."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__(
            " ".join(f"{_sentence(problem.words)}" for problem in problems),
            safe=_("Nothing was saved; what you typed is still here."),
        )
        self.problems = problems


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:].rstrip('.')}."


def amend(path: Path, change: Callable[[tomlkit.TOMLDocument], None]) -> None:
    """Apply `change` to the settings file at `path`, which may be invalid, so that it is mended bit by bit.

    Raises NotValidError, with the file as it was, if anything is wrong afterwards that was not before, and
    CompanionError if it can't be read or written.
    """
    document = parse_document(read_text(path), str(path))
    change(document)
    rewrite(path, tomlkit.dumps(document))


def rewrite(path: Path, text: str) -> None:
    """Put `text` in the place of the settings file, which may be invalid. Raises as `amend` does."""
    before = set(problems_in(read_text(path)))
    if new := tuple(one for one in problems_in(text) if one not in before):
        raise NotValidError(new)
    replace(path, text)


def parse_document(text: str, source: str) -> tomlkit.TOMLDocument:
    """Return the file's text with its comments. Raises CompanionError if it is not TOML."""
    try:
        return tomlkit.parse(text)
    except tomlkit.exceptions.ParseError as error:
        raise not_toml(source, error) from error


def is_valid_without(path: Path, name: str) -> bool:
    """Whether the settings file would be valid without its `name` tables."""
    try:
        parse_settings(_without(read_text(path), name), str(path))
    except (CompanionError, tomlkit.exceptions.ParseError):
        return False
    return True


def _without(text: str, name: str) -> str:
    document = tomlkit.parse(text)
    document.pop(name, None)
    return tomlkit.dumps(document)


def put_language(document: tomlkit.TOMLDocument, code: str) -> None:
    """Let `document` ask for pages and terminal in the language `code`."""
    if "words" not in document:
        document.add(tomlkit.nl())
        document["words"] = tomlkit.table()
    words = document["words"]
    assert isinstance(words, Table | InlineTable)
    words["language"] = code


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
    """Put `text` in the place of the settings file.

    Raises CompanionError, with the file as it was, when the disk does
    not take it.
    """
    try:
        replace_file(path, text.encode())
    except OSError as error:
        raise CompanionError(
            _("The settings file {path} can't be written ({strerror}).", path=path, strerror=error.strerror),
            safe=_("It is as it was."),
            remedy=_("Free or unlock the disk and try again."),
        ) from error
