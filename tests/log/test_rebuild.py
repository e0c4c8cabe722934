"""Summaries made again from the events."""

from pathlib import Path

import pytest

from companion.bench.school_years import fill
from companion.log import rebuild
from companion.log.rebuild import TABLES, differing
from companion.log.store import open_log


def _rows(path: Path) -> dict[str, list[dict[str, object]]]:
    with open_log(path) as log, log.reading() as db:
        return {table: sorted(db.table(table).rows, key=str) for table in TABLES}


def test_summaries_are_what_the_events_give(tmp_path: Path) -> None:
    """What was summed up append by append is what a fold of all events gives."""
    path = tmp_path / "sessions.db"
    fill(path, 12)
    with open_log(path) as log, log.writing() as db:
        assert differing(db) == []
        assert rebuild.rebuild(db) == 12


def test_a_table_that_says_something_else_is_named_and_put_right(tmp_path: Path) -> None:
    """A summary is never the last word."""
    path = tmp_path / "sessions.db"
    fill(path, 3)
    right = _rows(path)
    with open_log(path) as log, log.writing() as db:
        db.execute("UPDATE tally SET praise = praise + 1")
        assert differing(db) == ["tally"]
    assert _rows(path) == right


def test_a_log_of_an_older_version_is_summed_up_anew_when_it_is_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """History is whole at once after an upgrade, and only then: a log of today is left as it is."""
    path = tmp_path / "sessions.db"
    fill(path, 3)
    right = _rows(path)
    with open_log(path) as log, log.writing() as db:
        db.execute("DELETE FROM phase_held")
    assert _rows(path)["phase_held"] == []
    monkeypatch.setattr(rebuild, "SUMMARIES_VERSION", rebuild.SUMMARIES_VERSION + 1)
    assert _rows(path) == right
