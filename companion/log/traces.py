"""Proves that words are gone: looks for their bytes in every file that could hold them.

As `python -m companion.log.traces` it does so in a process of its own: whoever closes a file of SQLite's
gives up, by POSIX, all locks that the same process holds on it. Another program then takes itself for the
last one that has the log open, and deletes the write-ahead log into which this one goes on writing.
"""

import json
import mmap
import os
import subprocess
import sys
from collections.abc import Iterable, Iterator
from itertools import islice
from pathlib import Path
from typing import Any

from companion.errors import CompanionError
from companion.language import _
from companion.parent import end_with

PIECE = 24
"""Bytes of a long word that are looked for: SQLite may break a longer one at the end of a page."""
SHORTEST = 6
"""Shorter words stand by chance in any large file; they are looked for with their quotation marks."""
MOST_WORDS = 60


OUR_OWN = frozenset(
    {"kind", "source", "scope", "action", "advance", "engine", "note", "mark", "marks", "near_miss"}
    | {"rating", "how"}
)
"""Fields of bodies whose texts are the program's own words or numbers."""
SET_UP = ("class_group", "plan", "levels", "tables", "room", "phase", "phrase", "level")
"""Fields whose texts come from the settings: they stand rightly in other lessons and other files."""


def words_in(value: Any) -> Iterator[str]:  # noqa: ANN401 - whatever JSON holds
    """Yield every text of people's in a value that was read from JSON."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for name, one in value.items():
            if name not in OUR_OWN or not isinstance(one, str | list):
                yield from words_in(one)
    elif isinstance(value, list):
        for one in value:
            yield from words_in(one)


def words_of(row: dict[str, Any]) -> set[str]:
    """Return the texts in the row of an event, its own name and its session's among them."""
    return {row["id"], row["session"], *words_in(_body(row))}


def set_up_words_of(row: dict[str, Any]) -> set[str]:
    """Return the texts in the row of an event that it has from the settings."""
    body = _body(row)
    return set(words_in([body.get(name) for name in SET_UP])) if isinstance(body, dict) else set()


def traces(folder: Path, words: Iterable[str], *, but: Iterable[Path] = ()) -> list[Path]:
    """Return the files beneath `folder`, outside the files and folders `but`, in which a word's bytes stand.

    The longest words are looked for, as they stand in JSON and as they are. A file that can't be read may
    hold them, and so is one of those that are returned.
    """
    left_out = {path.resolve() for path in but}
    sought = {
        piece for word in islice(sorted(words, key=len, reverse=True), MOST_WORDS) for piece in _pieces(word)
    }
    found = []
    for path in sorted(folder.rglob("*")):
        if path.is_symlink() or left_out & {path.resolve(), *path.resolve().parents}:
            continue
        names = path.name.encode()
        if any(piece in names for piece in sought) or (path.is_file() and _holds(path, sought)):
            found.append(path)
    return found


def traces_aside(folder: Path, words: Iterable[str], *, but: Iterable[Path] = ()) -> list[Path]:
    """Return what `traces` does, found by another process. Raises CompanionError if it can't be found out."""
    asked = {"folder": str(folder), "words": sorted(words), "but": [str(path) for path in but]}
    try:
        done = subprocess.run(  # noqa: S603 - this very program
            [sys.executable, "-m", "companion.log.traces", str(os.getpid())],
            input=json.dumps(asked).encode(),
            capture_output=True,
            check=True,
        )
        return [Path(found) for found in json.loads(done.stdout)]
    except (OSError, ValueError, TypeError, subprocess.SubprocessError) as error:
        raise CompanionError(
            _("The files in {folder} could not be searched for what was forgotten.", folder=folder),
            safe=_("It is taken out of the log."),
            remedy=_("Try again: companion forget"),
        ) from error


def _body(row: dict[str, Any]) -> Any:  # noqa: ANN401 - whatever JSON holds
    try:
        return json.loads(row["body"])
    except ValueError:
        return row["body"]


def _pieces(word: str) -> set[bytes]:
    if len(word.encode()) < SHORTEST:
        return {json.dumps(word, ensure_ascii=False).encode()} if word else set()
    forms = {word.encode(), json.dumps(word, ensure_ascii=False)[1:-1].encode()}
    return {form[begin : begin + PIECE] for form in forms for begin in (0, max(0, len(form) - PIECE))}


def _holds(path: Path, sought: set[bytes]) -> bool:
    try:
        if not path.stat().st_size:
            return False
        with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as bytes_of_it:
            return any(bytes_of_it.find(piece) >= 0 for piece in sought)
    except FileNotFoundError:
        return False
    except (OSError, ValueError):
        return True


if __name__ == "__main__":
    end_with(int(sys.argv[1]))
    wanted = json.load(sys.stdin.buffer)
    there = traces(Path(wanted["folder"]), wanted["words"], but=map(Path, wanted["but"]))
    sys.stdout.write(json.dumps([str(path) for path in there]))
