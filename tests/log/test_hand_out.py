"""Lessons handed to other programs."""

import csv
import json
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.lesson import aftercare
from companion.lesson import event as ev
from companion.lesson.mark import NoteKind, Source
from companion.log.hand_out import dictionary, hand_out, read_csv
from companion.log.shapes import MARKS, NOTES, PHASES, SESSIONS, SHAPES, TAUGHT, rows_of
from companion.log.store import SessionLog, open_log
from tests.lesson.builders import OPENED, praise, reminder
from tests.log.test_weeks import MONDAY, hold
from tests.systems import is_private

ODD = '=SUM(1;2) "Spaten", Eimer\n은행나무 \u200f\u05d0 🌱'
DICTIONARY = Path(__file__).parents[2] / "companion" / "log" / "dictionary.md"


@pytest.fixture
def log(tmp_path: Path) -> Iterator[SessionLog]:
    """Return a log with two lessons that are over, odd words in one, and one that goes on."""
    log = open_log(tmp_path / "home" / "sessions.db")
    hold(log, 0, praise(1_000, routine=ODD), reminder(2_000), praise(3_000, routine="'quoted"))
    hold(log, 1, ev.NoteOpened(NoteKind.OTHER, 5, Source.PAGE), class_group="-5+2 Oak")
    note = log.summaries(most=1)[0].session
    log.append(note, ev.NoteCompleted("n3", "A.B.", NoteKind.OTHER, "fell asleep"), at=MONDAY, offset_ms=9)
    log.append(note, aftercare.RoutineTaughtAgain("cleanup", ODD), at=MONDAY, offset_ms=9)
    log.open_session(OPENED, MONDAY)
    yield log
    log.close()


def expected(log: SessionLog, name: str) -> list[tuple[object, ...]]:
    """Return the rows of a table as the sessions give them."""
    shape = next(shape for shape in (*SHAPES, NOTES) if shape.name == name)
    over = [log.session(one.session) for one in reversed(log.summaries()) if one.closed]
    return [row for session in over for row in rows_of(session, shape)]


@pytest.mark.parametrize("form", ["csv", "jsonl", "parquet"])
def test_what_was_written_is_read_back_as_it_was(log: SessionLog, tmp_path: Path, form: str) -> None:
    """Whatever the words are, in each format; the lesson that goes on is not in it."""
    out = tmp_path / "stick" / "out"
    counts = hand_out(log, out, form)
    assert is_private(out)
    assert counts == {"sessions": 2, "phases": 2, "marks": 3, "taught_again": 1}
    for shape in SHAPES:
        file = out / f"{shape.name}.{form}"
        rows: list[tuple[object, ...]]
        if form == "csv":
            rows = list(read_csv(file, shape))
        elif form == "jsonl":
            text = file.read_text("utf-8")
            assert "\\u" not in text
            rows = [tuple(json.loads(line).values()) for line in text.splitlines()]
        else:
            import duckdb  # noqa: PLC0415 - an extra

            with duckdb.connect() as db:
                rows = db.execute(f"SELECT * FROM '{file}'").fetchall()
        assert rows == expected(log, shape.name)
    assert {file.name for file in out.iterdir()} == {
        "dictionary.md",
        *(f"{shape.name}.{form}" for shape in SHAPES),
    }


def test_no_cell_is_run_by_a_spreadsheet(log: SessionLog, tmp_path: Path) -> None:
    """Text that begins like a formula begins with a quote instead; numbers stay numbers."""
    hand_out(log, tmp_path, "csv")
    for shape in SHAPES:
        with (tmp_path / f"{shape.name}.csv").open(encoding="utf-8-sig", newline="") as file:
            for row in list(csv.reader(file))[1:]:
                for cell, column in zip(row, shape.columns, strict=True):
                    assert column.kind == "whole" or not cell.startswith(("=", "+", "-", "@", "\t", "\r"))
                    if column.kind == "whole" and cell:
                        assert int(cell) in range(-1_000, 10**7)


def test_nothing_about_a_child_is_in_it_unless_asked_for_by_name(log: SessionLog, tmp_path: Path) -> None:
    """Neither initials nor the line."""
    hand_out(log, tmp_path / "without", "jsonl")
    hand_out(log, tmp_path / "with", "jsonl", (*SHAPES, NOTES))
    without, with_notes = (
        "".join(file.read_text("utf-8") for file in (tmp_path / name).iterdir())
        for name in ("without", "with")
    )
    for word in ("A.B.", "fell asleep"):
        assert word not in without
        assert word in with_notes


def test_files_that_are_there_are_left_alone(log: SessionLog, tmp_path: Path) -> None:
    """Nothing is overwritten, not even in part."""
    (tmp_path / "marks.csv").write_text("mine")
    with pytest.raises(CompanionError, match=r"There is a file .*marks\.csv already"):
        hand_out(log, tmp_path, "csv")
    assert [file.name for file in tmp_path.glob("*.csv")] == ["marks.csv"]
    assert (tmp_path / "marks.csv").read_text() == "mine"


def test_a_folder_that_can_not_be_made_is_told(log: SessionLog, tmp_path: Path) -> None:
    """A file is in its place, which stays."""
    (tmp_path / "out").write_text("mine")
    with pytest.raises(CompanionError, match="can't be written to"):
        hand_out(log, tmp_path / "out" / "here", "csv")
    assert (tmp_path / "out").read_text() == "mine"


def test_the_dictionary_in_the_repository_is_that_of_the_shapes() -> None:
    """Its columns keep their order and names: other programs rely on them."""
    assert DICTIONARY.read_text(encoding="utf-8") == dictionary((*SHAPES, NOTES))
    assert [column.name for column in SESSIONS.columns][:5] == [
        "session",
        "class_group",
        "grade",
        "opened_at",
        "plan",
    ]
    assert [len(shape.columns) for shape in (SESSIONS, PHASES, MARKS, TAUGHT, NOTES)] == [13, 6, 9, 3, 6]


def test_yes_and_no_stand_for_themselves_in_csv(tmp_path: Path) -> None:
    """Overruled, settled, taught by a guest."""
    with open_log(tmp_path / "home" / "sessions.db") as log:
        session = log.open_session(OPENED, MONDAY).id
        bodies = (
            ev.SessionClosed(1, Source.KEY),
            aftercare.SessionTaught(by_guest=True),
            ev.SessionSettled(),
        )
        log.append_all(session, bodies, at=MONDAY, offset_ms=1)
        hand_out(log, tmp_path / "out", "csv")
    with (tmp_path / "out" / "sessions.csv").open(encoding="utf-8-sig", newline="") as file:
        assert [row[-3:] for row in csv.reader(file)] == [
            ["overruled", "settled", "by_guest"],
            ["no", "yes", "yes"],
        ]


def test_without_the_engine_for_parquet_nothing_is_written(
    log: SessionLog, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is told before a folder is made."""
    monkeypatch.setitem(sys.modules, "duckdb", None)
    with pytest.raises(CompanionError, match="not installed"):
        hand_out(log, tmp_path / "out", "parquet")
    assert not (tmp_path / "out").exists()
