"""Lessons handed to other programs as files, a file a table, with the dictionary beside them."""

import csv
import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import IO, Any

from companion.errors import CompanionError
from companion.language import _
from companion.log.plain_errors import words_of
from companion.log.shapes import SHAPES, VERSION, Shape, TableRow, Value, rows_of
from companion.log.store import SessionLog

FORMATS = ("csv", "jsonl", "parquet")
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
"""What makes a spreadsheet run a cell as a formula (OWASP, CSV injection)."""
_SQL_TYPES = {"text": "VARCHAR", "whole": "BIGINT", "yes or no": "BOOLEAN"}


def dictionary(shapes: Sequence[Shape] = SHAPES) -> str:
    """Return the data dictionary in Markdown."""
    lines = [f"# Lessons as tables, version {VERSION}", ""]
    lines.append(
        "Made by `companion export`. A column keeps its name and meaning for good; new ones come at the end."
        " In CSV, yes and no stand for themselves, and text that a spreadsheet would run as a formula has a"
        " `'` before it."
    )
    for shape in shapes:
        lines += ["", f"## {shape.name}", "", f"{shape.means[0].upper()}{shape.means[1:]}.", ""]
        lines += ["| column | kind | meaning |", "|---|---|---|"]
        lines += [f"| {column.name} | {column.kind} | {column.means} |" for column in shape.columns]
    return "\n".join(lines) + "\n"


def hand_out(log: SessionLog, folder: Path, form: str, shapes: Sequence[Shape] = SHAPES) -> dict[str, int]:
    """Write the lessons that are over into the new files of `folder`; return the rows of each table.

    form: one of `FORMATS`. Raises CompanionError if there are such files, or the disk does not take them.
    """
    files = [folder / f"{shape.name}.{form}" for shape in shapes]
    if there := [file for file in files if file.exists()]:
        raise CompanionError(
            _("There is a file {file} already.", file=there[0]),
            safe=_("It was not changed."),
            remedy=_("Name another folder."),
        )
    if form == "parquet":
        _require_duckdb()
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        lines = [file.with_suffix(".jsonl") if form == "parquet" else file for file in files]
        counts = _write(log, lines, "csv" if form == "csv" else "jsonl", shapes)
        if form == "parquet":
            for line, file, shape in zip(lines, files, shapes, strict=True):
                _to_parquet(line, file, shape)
        (folder / "dictionary.md").write_text(dictionary(shapes), encoding="utf-8")
    except OSError as error:
        raise CompanionError(
            _(
                "The lessons can't be written to {folder} ({error}).",
                folder=folder,
                error=words_of(error),
            ),
            safe=_("The session log was not changed."),
            remedy=_("Free the disk or name another folder."),
        ) from error
    return counts


def _write(log: SessionLog, files: Sequence[Path], form: str, shapes: Sequence[Shape]) -> dict[str, int]:
    """Write each session's rows into all files, so that the log is read once."""
    counts = dict.fromkeys((shape.name for shape in shapes), 0)
    with ExitStack() as stack:
        writers = [
            _writer(stack.enter_context(_new(file, form)), form, shape)
            for file, shape in zip(files, shapes, strict=True)
        ]
        for summary in reversed(log.summaries()):
            if not (summary.closed or summary.settled):
                continue
            session = log.session(summary.session)
            for shape, write in zip(shapes, writers, strict=True):
                for row in rows_of(session, shape):
                    write(row)
                    counts[shape.name] += 1
    return counts


def _new(file: Path, form: str) -> IO[str]:
    # Spreadsheets take a file for UTF-8 only if it begins with a byte order mark.
    return file.open("x", encoding="utf-8-sig" if form == "csv" else "utf-8", newline="")


def _writer(file: IO[str], form: str, shape: Shape) -> Callable[[TableRow], Any]:
    names = [column.name for column in shape.columns]
    if form == "jsonl":
        return lambda row: file.write(
            json.dumps(dict(zip(names, row, strict=True)), ensure_ascii=False) + "\n"
        )
    table = csv.writer(file)
    table.writerow(names)
    return lambda row: table.writerow([_cell(value) for value in row])


def _cell(value: Value) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = str(value)
    return f"'{text}" if isinstance(value, str) and text.startswith((*FORMULA, "'")) else text


def read_csv(file: Path, shape: Shape) -> Iterator[TableRow]:
    """Yield the rows of a CSV file as they were written."""
    with file.open(encoding="utf-8-sig", newline="") as opened:
        rows = csv.reader(opened)
        next(rows)
        for row in rows:
            yield tuple(_value(cell, column.kind) for cell, column in zip(row, shape.columns, strict=True))


def _value(cell: str, kind: str) -> Value:
    if kind == "yes or no":
        return cell == "yes"
    return int(cell) if kind == "whole" else cell.removeprefix("'")


def _require_duckdb() -> None:
    try:
        import duckdb  # noqa: F401, PLC0415 - an extra
    except ModuleNotFoundError:
        raise CompanionError(
            _("Parquet needs a part that is not installed."),
            remedy=_("Install it with the extra “school” (see DEVELOPERS.md), or take --format csv."),
        ) from None


def _to_parquet(lines: Path, file: Path, shape: Shape) -> None:
    import duckdb  # noqa: PLC0415 - an extra

    columns = {column.name: _SQL_TYPES[column.kind] for column in shape.columns}
    with duckdb.connect() as db:
        db.read_json(str(lines), columns=columns, format="newline_delimited").write_parquet(str(file))
    lines.unlink()
