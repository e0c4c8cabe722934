"""The catalogues of the program's own words: gathered from the code, kept in `companion/locale/`, compiled.

`python -m tests.catalogues` brings them up to date, and names what has no translation yet. There is one file
a room and language, so that two people seldom change the same one; a sentence of two rooms stands in both.
"""

import ast
import re
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from companion.commands.in_words import paragraphs
from companion.language import ENGLISH, LANGUAGES, LOCALE

COMPANION = LOCALE.parent
KEYWORDS: dict[str, tuple[int, int] | None] = {"_": None, "later": None, "tagged": None}
KEYWORDS |= dict.fromkeys(("many", "later_many", "many_tagged"), (1, 2))
"""The functions whose messages are gathered, with the places of their messages; None: the first."""
OF_SEVERAL_THINGS = ("word", "later_word")
"""Those whose first argument says what the message is about; gettext calls that its context."""
PARTING = "\x04"
"""Stands between what a message is about and the message, here as in gettext's files."""
WRITTEN = datetime(2026, 11, 28, tzinfo=UTC)
"""Stands in every file in place of the hour, so that nothing changes where no words do."""
LINE = 110
TRANSLATIONS = [code for code in LANGUAGES if code != ENGLISH]

Message = str | tuple[str, str]
"""A sentence, or its forms for one and for more."""
Said = str | tuple[str, ...]
"""Its translation: as many forms as the language has; "" where it has none yet."""


@dataclass(frozen=True, slots=True)
class Found:
    """Where a message stands."""

    message: Message
    path: Path


def room_of(path: Path) -> str:
    """Return the name of the catalogue that the messages of a source file are in."""
    parts = path.relative_to(COMPANION).parts
    if parts[0] == "pages" and {"setup", "exercises"} & set(parts):
        return "setup"
    return parts[0] if len(parts) > 1 else "commands"


@cache
def found() -> tuple[Found, ...]:
    """Return every message of the code and the templates."""
    return tuple(
        Found(message, path)
        for path in sorted((*COMPANION.rglob("*.py"), *(COMPANION / "pages" / "templates").rglob("*.html")))
        for message in messages_in(path)
    )


def messages_in(path: Path) -> Iterator[Message]:
    """Yield the messages of one source file."""
    if path.suffix == ".py":
        tree = ast.parse(path.read_text(encoding="utf-8"))
        yield from words_in(tree)
        if room_of(path) == "commands":
            yield from helps_in(tree)
        return
    # Jinja's own way of gathering is silent about a template that it can't read unless told otherwise.
    read = BytesIO(path.read_bytes())
    keywords = KEYWORDS | dict.fromkeys(OF_SEVERAL_THINGS, ((1, "c"), 2))
    for _line, message, _comments, context in extract("jinja2", read, keywords, options={"silent": "false"}):
        if isinstance(message, str):
            yield f"{context}{PARTING}{message}" if isinstance(context, str) else message
        else:
            yield message[0], message[1]


def words_in(tree: ast.AST) -> Iterator[Message]:
    """Yield the messages of a module; by its tree, since Babel finds none within an f-string."""
    for node in ast.walk(tree):
        match node:
            case ast.Call(func=ast.Name(id=name), args=[ast.Constant(value=str(words)), *more]) if words:
                if KEYWORDS.get(name, 0) is None:
                    yield words
                elif name in OF_SEVERAL_THINGS and more and isinstance(more[0], ast.Constant):
                    yield f"{words}{PARTING}{more[0].value!s}"
                elif name in KEYWORDS and more and isinstance(more[0], ast.Constant):
                    yield words, str(more[0].value)


def helps_in(tree: ast.AST) -> Iterator[str]:
    """Yield the help of the commands of a module: their docstrings by paragraphs, and their options'."""
    for node in ast.walk(tree):
        match node:
            case ast.FunctionDef(decorator_list=decorators) if any(map(_makes_a_command, decorators)):
                yield from paragraphs(ast.get_docstring(node) or "")
            case ast.keyword(arg="help" | "prompt", value=ast.Constant(value=str(words))):
                yield words


def _makes_a_command(decorator: ast.expr) -> bool:
    called = decorator.func if isinstance(decorator, ast.Call) else None
    return isinstance(called, ast.Attribute) and called.attr in {"command", "group"}


def rooms() -> Mapping[str, set[Message]]:
    """Return the messages of each room that has any."""
    gathered: dict[str, set[Message]] = {}
    for one in found():
        gathered.setdefault(room_of(one.path), set()).add(one.message)
    return gathered


def folder_of(code: str) -> Path:
    """Return where the catalogues of a language lie."""
    return LOCALE / code / "LC_MESSAGES"


def translations(path: Path) -> dict[Message, Said]:
    """Return what a `.po` file says, without its header; what a machine guessed is left out."""
    with path.open("rb") as file:
        read = read_po(file)
    said: dict[Message, Said] = {}
    for entry in read:
        if entry.id and not entry.fuzzy:
            # Forms come as lists or tuples, by whether the file was read or made.
            message: Message = entry.id if isinstance(entry.id, str) else (entry.id[0], entry.id[1])
            message = f"{entry.context}{PARTING}{message}" if entry.context else message
            said[message] = entry.string if isinstance(entry.string, str) else tuple(entry.string or ())
    return said


def comment_of(path: Path, room: str, code: str) -> str:
    """Return what stands at the head of a catalogue; what a translator wrote there stays."""
    if path.exists():
        with path.open("rb") as file:
            return read_po(file).header_comment
    return f"# {LANGUAGES[code].name}: what `{room}` says."


def bring_up_to_date(code: str) -> set[Message]:
    """Write the catalogues of a language anew and compile them; return what has no translation yet."""
    folder = folder_of(code)
    folder.mkdir(parents=True, exist_ok=True)
    known: dict[Message, Said] = {}
    for path in folder.glob("*.po"):
        known |= {message: said for message, said in translations(path).items() if any(said)}
    missing: set[Message] = set()
    gathered = rooms()
    for room, messages in gathered.items():
        path = folder / f"{room}.po"
        catalogue = Catalog(
            locale=code,
            header_comment=comment_of(path, room, code),
            project="lesson-companion",
            version="1",
            creation_date=WRITTEN,
            revision_date=WRITTEN,
            fuzzy=False,
        )
        own = translations(path) if path.exists() else {}
        for message in messages:
            said = own.get(message, "")
            about, parted, words = message.partition(PARTING) if isinstance(message, str) else ("", "", "")
            translated = said if any(said) else known.get(message, "")
            catalogue.add(words if parted else message, translated, context=about if parted else None)
            if message not in known:
                missing.add(message)
        _write(path, catalogue)
    for path in folder.iterdir():
        if path.stem not in gathered:
            path.unlink()
    return missing


def _write(path: Path, catalogue: Catalog) -> None:
    words, compiled = BytesIO(), BytesIO()
    write_po(words, catalogue, width=LINE, no_location=True, sort_output=True)
    write_mo(compiled, catalogue)
    for place, content in ((path, words.getvalue()), (path.with_suffix(".mo"), compiled.getvalue())):
        if not place.exists() or place.read_bytes() != content:
            place.write_bytes(content)


def names_in(message: str) -> set[str]:
    """Return the names of the values in a message."""
    return set(re.findall(r"\{(\w+)", message))


def main() -> int:
    """Bring all languages up to date; return 1 if any sentence has no translation."""
    missing = {code: bring_up_to_date(code) for code in TRANSLATIONS}
    for code, messages in missing.items():
        for message in sorted(messages, key=str):
            print(f"{code}: {message}")
    return 1 if any(missing.values()) else 0


if __name__ == "__main__":
    sys.exit(main())
