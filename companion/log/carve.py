"""Events out of the bare pages of an SQLite file, where SQLite itself can't find its way any more.

Sources: SQLite's file format, https://www.sqlite.org/fileformat2.html (leaf pages of a table, records,
overflow pages, frames of a write-ahead log).
"""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from companion.lesson.event import BODIES
from companion.log.seal import COLUMNS
from companion.log.whereabouts import WAITING, beside

PAGE = 4096
"""SQLite's own size of a page, in which our logs are made."""
LEAF = 0x0D
TEXTS = ("id", "session", "at", "body", "batch")
WAL_HEADER, FRAME_HEADER = 32, 24
LONGEST = 4_000_000
"""No event is longer; a length beyond it is no length."""


def carved(path: Path) -> Iterator[dict[str, Any]]:
    """Yield every row of an event that can be read in the file at `path` and in its write-ahead log."""
    log = _bytes(path)
    pages = {number + 1: log[number * PAGE : (number + 1) * PAGE] for number in range(len(log) // PAGE)}
    yield from _events(pages, only=pages)
    waiting = _bytes(beside(path, WAITING))
    fresh: set[int] = set()
    for begin in range(WAL_HEADER, len(waiting) - PAGE, FRAME_HEADER + PAGE):
        number, committed = (int.from_bytes(waiting[at : at + 4], "big") for at in (begin, begin + 4))
        pages[number] = waiting[begin + FRAME_HEADER : begin + FRAME_HEADER + PAGE]
        fresh.add(number)
        # A long event goes on upon pages that come after its own, in the same transaction.
        if committed:
            yield from _events(pages, only=fresh)
            fresh.clear()
    yield from _events(pages, only=fresh)


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError:
        return b""


def _events(pages: dict[int, bytes], only: Iterable[int]) -> Iterator[dict[str, Any]]:
    for page in (pages[number] for number in only):
        # The first page of a file begins with its name; it tells of the tables and holds no event.
        if len(page) < PAGE or page[0] != LEAF:
            continue
        count = int.from_bytes(page[3:5], "big")
        for place in range(min(count, PAGE // 4)):
            at = 8 + 2 * place
            row = _row(page, int.from_bytes(page[at : at + 2], "big"), pages)
            if row is not None:
                yield row


def _row(page: bytes, cell: int, pages: dict[int, bytes]) -> dict[str, Any] | None:
    try:
        length, cell = _varint(page, cell)
        _rowid, cell = _varint(page, cell)
        values = _values(_payload(page, cell, length, pages))
    except (IndexError, ValueError):
        return None
    row = {"batch": "", **dict(zip((*COLUMNS, "batch"), values, strict=False))}
    if len(values) < len(COLUMNS) or row["kind"] not in BODIES:
        return None
    whole = all(isinstance(row[name], int) for name in ("seq", "offset_ms", "version"))
    return row if whole and all(isinstance(row[name], str) for name in TEXTS) else None


def _payload(page: bytes, cell: int, length: int, pages: dict[int, bytes]) -> bytes:
    """Return the bytes of a record, those on overflow pages too."""
    if length > LONGEST:
        raise ValueError
    most, least = PAGE - 35, (PAGE - 12) * 32 // 255 - 23
    if length <= most:
        return page[cell : cell + length]
    here = least + (length - least) % (PAGE - 4)
    here = here if here <= most else least
    found, after = page[cell : cell + here], page[cell + here : cell + here + 4]
    while len(found) < length:
        following = pages.get(int.from_bytes(after, "big"), b"")
        if not following:
            raise ValueError
        found, after = found + following[4:], following[:4]
    return found[:length]


def _values(record: bytes) -> list[str | int | bytes | None]:
    end, at = _varint(record, 0)
    kinds = []
    while at < end:
        kind, at = _varint(record, at)
        kinds.append(kind)
    values: list[str | int | bytes | None] = []
    for kind in kinds:
        size = _size(kind)
        values.append(_value(kind, record[at : at + size]))
        at += size
    return values


def _size(kind: int) -> int:
    if kind >= 12:
        return (kind - 12) // 2
    return {5: 6, 6: 8, 7: 8, 8: 0, 9: 0}.get(kind, kind)


def _value(kind: int, piece: bytes) -> str | int | bytes | None:
    if kind >= 12:
        return piece.decode("utf-8") if kind % 2 else piece
    if kind == 7:
        # A number with a point: no column of an event holds one.
        return None
    if kind == 9:
        return 1
    return int.from_bytes(piece, "big", signed=True) if kind else None


def _varint(piece: bytes, at: int) -> tuple[int, int]:
    value = 0
    for place in range(9):
        byte = piece[at + place]
        if place == 8:
            return value << 8 | byte, at + 9
        value = value << 7 | byte & 0x7F
        if not byte & 0x80:
            return value, at + place + 1
    raise ValueError
