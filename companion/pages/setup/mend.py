"""Mends a settings file that can't be used: each line that is wrong is shown, and can be changed there."""

import re
from dataclasses import dataclass
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.language import _
from companion.pages.desk import Desk, desk_of, then, wish_of
from companion.pages.setup.page import posted, saved, version_of
from companion.settings.file import replace
from companion.settings.settings import problems_in, read_text

_HEADER = re.compile(r"\s*\[(\[?)\s*([^\]]+?)\s*\]")
_KEY = re.compile(r"""\s*("[^"]*"|'[^']*'|[\w-]+)\s*=""")
_AT_LINE = re.compile(r"at line (\d+)")


@dataclass(frozen=True, slots=True)
class WrongLine:
    """A line of the file that is wrong."""

    number: int
    """Counted from 1."""
    line: str
    words: str


def show(request: Request) -> Response:
    """Show the lines that are wrong."""
    desk = desk_of(request)
    return _page(desk, read_text(desk.home.settings))


def _page(desk: Desk, text: str, http_status: int = 200) -> Response:
    kept = read_text(desk.home.settings)
    return desk.page(
        "setup/mend.html",
        http_status,
        text=text,
        kept=kept,
        marks=marks_in(text),
        version=version_of(kept),
        path=desk.home.settings,
    )


async def save(request: Request) -> Response:
    """Put the changed lines, or the whole changed text, into the file."""
    desk, said, form = await posted(request)
    wish_of(form)
    return await run_in_threadpool(_save, desk, said)


def _save(desk: Desk, said: dict[str, str]) -> Response:
    kept = read_text(desk.home.settings)
    if said.get("version") != version_of(kept):
        raise CompanionError(
            _("The settings file was changed meanwhile, here or in an editor."),
            safe=_("It is as it was."),
            remedy=_("Load this page again and repeat the change."),
        )
    text = said["text"].replace("\r\n", "\n") if "text" in said else _with_lines(kept, said)
    before, after = marks_in(kept), marks_in(text)
    if after and _is_unreadable(text) and "text" not in said and len(after) >= len(before):
        return _page(desk, text, 409)
    if _is_unreadable(text) and not _is_unreadable(kept):
        return _page(desk, text, 409)
    replace(desk.home.settings, text)
    desk.drafts.forget("day/setup-mend", "day/setup-lines")
    return then(saved("mend") if after else _all_right())


def _all_right() -> str:
    """Return the address of the set-up that says so."""
    words = _("Saved. Everything is right again.")
    return f"/setup?{urlencode({'saved': words})}"


def _with_lines(text: str, said: dict[str, str]) -> str:
    lines = text.split("\n")
    for name, value in said.items():
        number = name.removeprefix("line.")
        if number != name and number.isdecimal() and 0 < int(number) <= len(lines):
            lines[int(number) - 1] = value
    return "\n".join(lines)


def _is_unreadable(text: str) -> bool:
    try:
        problems_in(text)
    except CompanionError:
        return True
    return False


def marks_in(text: str) -> list[WrongLine]:
    """Return the lines of a settings file that are wrong, with what to do about each."""
    lines = text.split("\n")
    try:
        found = problems_in(text)
    except CompanionError as error:
        told = _AT_LINE.search(error.what)
        number = min(int(told[1]), len(lines)) if told else len(lines)
        return [WrongLine(number, lines[number - 1], _("this can't be read. {remedy}", remedy=error.remedy))]
    return [
        WrongLine(number, lines[number - 1], one.words) for one in found for number in [line_of(text, one.at)]
    ]


def line_of(text: str, at: tuple[str | int, ...]) -> int:
    """Return the number of the line, from 1, that holds most of the place `at` in a file of TOML."""
    best, most = 1, 0
    table: tuple[str | int, ...] = ()
    rows: dict[tuple[str | int, ...], int] = {}
    for number, line in enumerate(text.split("\n"), start=1):
        place = table
        if header := _HEADER.match(line):
            table = place = _opened(header[2], rows, several=bool(header[1]))
        elif key := _KEY.match(line):
            place = (*table, key[1].strip("\"'"))
        shared = len(place) if at[: len(place)] == place else 0
        if shared > most:
            best, most = number, shared
    return best


def _opened(name: str, rows: dict[tuple[str | int, ...], int], *, several: bool) -> tuple[str | int, ...]:
    """Return the place that a header opens; `rows` counts those of each array of tables."""
    place: tuple[str | int, ...] = ()
    parts = [part.strip().strip("\"'") for part in name.split(".")]
    for index, part in enumerate(parts):
        place = (*place, part)
        if several and index == len(parts) - 1:
            rows[place] = rows.get(place, -1) + 1
        if place in rows:
            place = (*place, rows[place])
    return place
