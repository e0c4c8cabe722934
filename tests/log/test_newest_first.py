"""Sessions from the newest on."""

from datetime import timedelta
from pathlib import Path

from companion.bench.school_years import fill
from companion.lesson import event as ev
from companion.log.newest_first import Listed, listed, newest_first, recognitions
from companion.log.store import open_log
from tests.lesson.builders import AT, OPENED


def test_sessions_come_as_the_log_tells_them(tmp_path: Path) -> None:
    """In the order of all summaries; as many as are wanted, up to a day, of one class group."""
    path = tmp_path / "sessions.db"
    fill(path, 60, marks_each=1)
    with open_log(path) as log:
        every = log.summaries()
        assert list(newest_first(log)) == every
        assert list(newest_first(log, most=7)) == every[:7]
        day = every[20].opened_at.date()
        assert list(newest_first(log, until=day)) == [one for one in every if one.opened_at.date() <= day]
        group = every[3].class_group
        assert list(newest_first(log, group)) == log.summaries(group)
        assert set(recognitions(log)) == {one.recognition for one in every} - {None}
        assert listed(log) == Listed(60, every[-1].opened_at.date())


def test_who_looks_at_them_keeps_nobody_from_writing(tmp_path: Path) -> None:
    """What was asked for is told as it was then, whatever is recorded meanwhile."""
    with open_log(tmp_path / "sessions.db") as log:
        assert listed(log) == Listed(0, None)
        for days in range(3):
            log.open_session(OPENED, AT + timedelta(days=days))
        found = newest_first(log)
        newest = next(found)
        log.append(newest.session, ev.SelfRated("went well"), at=AT, offset_ms=1)
        with log.reading() as db:
            busy, _, _ = db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        assert busy == 0
        assert len(list(found)) == 2
