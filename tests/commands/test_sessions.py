"""`companion sessions` and the home that it looks into."""

from datetime import timedelta
from pathlib import Path

import pytest

from companion.bench.school_years import fill
from companion.commands.sessions import NEWEST
from companion.lesson import event as ev
from companion.lesson.mark import Source
from companion.log.store import open_log
from tests.commands.conftest import Run
from tests.lesson.builders import AT, LEVELS, PLAN, began, praise


def test_a_session_is_one_line_of_a_narrow_terminal(call: Run, tmp_path: Path) -> None:
    """At 80 columns nothing wraps, and the name that is shown names it to every other command."""
    with open_log(tmp_path / "home" / "sessions.db") as log:
        for hours in range(3):
            at = AT + timedelta(hours=hours)
            session = log.open_session(ev.SessionOpened("4-Hazel", PLAN, LEVELS), at)
            for body in (began("arrival", 0), praise(30_000), ev.SessionClosed(60_000, Source.KEY)):
                log.append(session.id, body, at=at, offset_ms=0)
    head, *lines = call("sessions", columns=80).stdout.splitlines()
    assert len(lines) == 3
    assert all(len(line) <= 80 for line in (head, *lines))
    assert all(line.split()[-3:] == ["1", "to", "review"] for line in lines)
    assert call("review", lines[-1].split()[0], "--list").stdout.count("m3") == 1


def test_years_of_sessions_are_shown_by_their_newest(call: Run, tmp_path: Path) -> None:
    """How to see the older ones is told; a program gets them all at once."""
    fill(tmp_path / "home" / "sessions.db", NEWEST + 3, marks_each=1)
    head, *lines, older = call("sessions", columns=80).stdout.splitlines()
    assert len(lines) == NEWEST
    assert older.startswith("Older ones: companion sessions --until 20")
    assert older.endswith(", or --all")
    every = call("sessions", "--all", columns=80).stdout.splitlines()
    assert every[: NEWEST + 1] == [head, *lines]
    assert len(every) == 1 + NEWEST + 3
    until = older.split()[5].rstrip(",")
    rest = call("sessions", "--until", until, columns=80).stdout.splitlines()
    assert rest[-1] == every[-1]
    assert set(rest[1:]) >= set(every[NEWEST + 1 :]), "no lesson lies between one list and the next"
    assert len(call("sessions", "--json").stdout.splitlines()) == NEWEST + 3
    assert call("sessions", "--until", "2001-01-01").stdout == "There is none so old.\n"


def test_a_table_of_years_is_as_wide_as_its_widest_row(call: Run, tmp_path: Path) -> None:
    """Columns are as wide in the first rows as names, recognitions and states of older ones need."""
    with open_log(tmp_path / "home" / "sessions.db") as log:
        for days, group in enumerate(["6-Southernmost", *["4-Hazel"] * (NEWEST + 1)]):
            at = AT + timedelta(days=days)
            session = log.open_session(ev.SessionOpened(group, PLAN, LEVELS), at)
            bodies: list[ev.Body] = [
                began("arrival", 0),
                *[praise(30_000)] * (1 if days else 9),
                ev.SessionClosed(60_000, Source.KEY),
            ]
            log.append_all(session.id, bodies, at=at, offset_ms=60_000)
    head, *lines = call("sessions", "--all", columns=80).stdout.splitlines()
    assert len(lines) == NEWEST + 2
    assert "6-Southernmost" in lines[-1]
    places = {line.index(line.split()[2]) for line in lines}
    assert places == {head.index("opened")}


def test_a_home_may_be_written_with_a_tilde(
    call: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where a shell did not put the user's folder in its place."""
    monkeypatch.setenv("HOME", str(tmp_path))
    call("--home", "~/garden", "init", "--yes")
    assert (tmp_path / "garden" / "companion.toml").is_file()


def test_a_mistyped_home_is_refused(call: Run, tmp_path: Path) -> None:
    """It is not made, and nobody wonders where the sessions are."""
    told = call("--home", tmp_path / "gardn", "sessions", code=2).stderr
    assert f"There is no folder {tmp_path / 'gardn'}" in told
    assert not (tmp_path / "gardn").exists()
