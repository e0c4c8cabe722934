"""A week as it is copied from a spreadsheet: rows are periods, columns are days. Pure."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from companion.language import _

NOBODY = frozenset({"", "-", "–", "—", "free", "lunch", "prep", "planning", "duty"})
"""Cells in which no class comes."""
SPAN = re.compile(r"(\d{1,2})[:.](\d{2})\s*(?:-|–|—|to|bis)\s*(\d{1,2})[:.](\d{2})")


@dataclass(frozen=True, slots=True)
class PastedRow:
    """One period of the week."""

    span: str
    """Its time, as in `08:30-09:15`; empty where none stands in the first column."""
    cells: tuple[str, ...]
    """The class of each day, empty for none."""


def pasted_week(text: str, days: Sequence[str]) -> list[PastedRow]:
    """Return the periods that stand in `text`, its cells parted by tabs, semicolons or commas.

    A first line that names the days is left out, and so is a first column that names the periods.
    Raises ValueError, in words for the teacher, for a line with more cells than there are days.
    """
    rows = [_cells(line) for line in text.splitlines() if line.strip()]
    if rows and _names_days(rows[0]):
        rows = rows[1:]
    labelled = any(SPAN.search(row[0]) or len(row) > len(days) for row in rows)
    found = []
    for row in rows:
        label, cells = (row[0], row[1:]) if labelled else ("", row)
        if len(cells) > len(days):
            msg = _(
                "“{line}” has {cells} cells, and the week has {days} days",
                line=" | ".join(row)[:60],
                cells=len(cells),
                days=len(days),
            )
            raise ValueError(msg)
        shown = tuple("" if cell.casefold() in NOBODY else cell for cell in cells)
        found.append(PastedRow(_span(label), (*shown, *[""] * (len(days) - len(shown)))))
    return found


def _cells(line: str) -> list[str]:
    parting = next((sign for sign in ("\t", ";", ",") if sign in line), "\t")
    return [" ".join(cell.split())[:80] for cell in line.rstrip("\r\n").split(parting)]


def _names_days(row: Sequence[str]) -> bool:
    """Whether a line is the one above the week: most of its cells begin like a weekday, or say "day"."""
    weekday = re.compile(r"(mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?$|day\b|[a-z]$", re.IGNORECASE)
    named = sum(bool(weekday.match(cell)) for cell in row[1:] or row)
    return named > len(row) / 2


def _span(label: str) -> str:
    found = SPAN.search(label)
    if not found:
        return ""
    first, last = int(found[1]), int(found[3])
    # A clock of twelve hours: lessons go on past noon.
    first, last = (hour + 12 if hour < 7 else hour for hour in (first, last))
    return f"{first:02}:{found[2]}-{last:02}:{found[4]}"
