"""What is kept, where and until when."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from companion.log.store import open_log
from companion.paths import Home
from companion.settings.kept import kept_in
from tests.lesson.builders import OPENED
from tests.school_day import SETTINGS


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Give a home with settings and no log yet."""
    home = Home(tmp_path).create()
    home.settings.write_text(SETTINGS, encoding="utf-8")
    return home


def test_every_thing_that_is_kept_says_where_and_until_when(home: Home) -> None:
    """Each lies in the home."""
    for one in kept_in(home):
        assert one.what
        assert one.until
        assert home.folder in (one.where, *one.where.parents)


def test_the_log_is_told_with_its_sessions(home: Home) -> None:
    """None yet, one, or why it can't be read now."""
    assert "no session yet" in next(kept_in(home)).what
    with open_log(home.log) as log:
        log.open_session(OPENED, datetime(2026, 9, 14, 9, 10, tzinfo=UTC))
    assert "1 session, the oldest of 14 September 2026" in next(kept_in(home)).what
    home.log.write_bytes(b"no database at all" * 100)
    assert "can't be read now" in next(kept_in(home)).what


def test_the_settings_say_until_when(home: Home) -> None:
    """Without a file that can be read, the usual days hold."""
    usual = next(kept_in(home)).until
    home.settings.write_text(SETTINGS + '[keeping]\nindividual_notes_days = 7\nsessions = "always"\n')
    until = next(kept_in(home)).until
    assert "individual notes for 7 days, whole sessions stay until you delete them" in until
    home.settings.write_text("no settings")
    assert next(kept_in(home)).until == usual


def test_sound_is_kept_only_with_an_end_date(home: Home) -> None:
    """Which is told."""
    clips = [next(one for one in kept_in(home) if one.where == home.clips).until]
    home.settings.write_text(SETTINGS + "[listening]\nkeep_clips_until = 2026-12-18\n")
    clips.append(next(one for one in kept_in(home) if one.where == home.clips).until)
    assert "your settings keep none on disk" in clips[0]
    assert clips[1].startswith("18 December 2026")
