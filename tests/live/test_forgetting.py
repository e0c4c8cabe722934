"""Forgetting while a lesson goes on in the same process."""

import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from companion.live.forgetting import finish, forget_for_good
from companion.log import forget
from companion.log.store import open_log
from companion.paths import Home
from tests.lesson.builders import praise
from tests.pages.lessons import BODIES as LESSON
from tests.pages.lessons import NOTE, write_lesson

OTHER_PROGRAM = """
import sqlite3, sys
db = sqlite3.connect(sys.argv[1])
print(db.execute("SELECT count(*) FROM event WHERE kind = 'mark made'").fetchone()[0])
db.close()
"""
"""Has the log open and closes it, as any command does."""


def test_forgetting_lets_go_of_no_lock_that_keeps_the_log_whole(tmp_path: Path) -> None:
    """Else the next program that closes the log deletes the file into which the lesson's marks go."""
    home = Home(tmp_path / "home").create()
    session = write_lesson(home.log, *LESSON, NOTE)
    at = datetime(2026, 11, 28, tzinfo=UTC)
    with open_log(home.log) as lesson:
        before = _marks(home.log)
        assert forget_for_good(home, forget.one_child(NOTE.child), forget.CHILD, at).counts
        assert _marks(home.log) == before
        lesson.append(session.id, praise(1_900_000), at=at, offset_ms=1_900_000)
        assert _marks(home.log) == before + 1


def test_files_that_hold_it_too_are_told_while_another_program_reads(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Afterwards nobody knows any more what was to be looked for."""
    monkeypatch.setattr(forget, "READERS_END_S", 0.1)
    home = Home(tmp_path / "home").create()
    write_lesson(home.log, *LESSON, NOTE)
    shutil.copy(home.log, home.folder / "carried-away.db")
    at = datetime(2026, 11, 28, tzinfo=UTC)
    with closing(sqlite3.connect(home.log)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM event").fetchone()
        with pytest.raises(forget.StillReadError) as told:
            forget_for_good(home, forget.one_child(NOTE.child), forget.CHILD, at)
    assert f"It still stands in 1 file: {home.folder / 'carried-away.db'}." in told.value.what
    assert finish(home)


def _marks(path: Path) -> int:
    asked = [sys.executable, "-c", OTHER_PROGRAM, str(path)]
    return int(subprocess.run(asked, capture_output=True, check=True).stdout)
