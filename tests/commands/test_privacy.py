"""`companion privacy`: what is kept, where, until when."""

from datetime import UTC, date, datetime
from pathlib import Path

from companion.log.copies import set_aside
from companion.paths import Home
from tests.commands.conftest import Run
from tests.pages.lessons import write_lesson


def test_it_says_what_is_kept_where_and_until_when(run: Run, tmp_path: Path) -> None:
    """Each place is that of this home, and how many sessions it holds since when is counted."""
    home = Home(tmp_path / "home").create()
    session = write_lesson(home.log)
    said = run("privacy").stdout
    assert "1 session, the oldest of " + f"{session.opened_at:%d %B %Y}" in said
    for place in (home.log, home.voice, home.clips, home.settings, home.pictures, home.run, home.models):
        assert f"where: {place}" in said
    assert "log purge" in said
    assert "in memory only" in said
    assert "Nothing leaves this computer" in said
    assert said.startswith("Your school's policy")


def test_what_is_seldom_there_is_told_where_it_is(run: Run, tmp_path: Path) -> None:
    """A rescue file, damaged logs, and what was gathered of a school."""
    home = Home(tmp_path / "home").create()
    seldom = (home.rescue, home.folder / "set-aside", home.school)
    assert not [place for place in seldom if f"where: {place}" in run("privacy").stdout]
    home.rescue.touch()
    home.school.mkdir()
    home.log.touch()
    set_aside(home.log, datetime(2026, 9, 14, tzinfo=UTC))
    said = run("privacy").stdout
    assert [place for place in seldom if f"where: {place}\n" in said] == [*seldom]


def test_sound_on_disk_is_told_with_its_last_day(run: Run, tmp_path: Path) -> None:
    """The settings' own date, and no session where there is none."""
    run("init", "--yes")
    settings = tmp_path / "home" / "companion.toml"
    text = settings.read_text()
    settings.write_text(text.replace("[listening]\n", "[listening]\nkeep_clips_until = 2027-06-11\n"))
    said = run("privacy").stdout
    assert f"until: {date(2027, 6, 11):%d %B %Y}, or until its session is purged" in said
    assert "no session yet" in said


def test_a_log_that_can_not_be_read_is_told(run: Run, tmp_path: Path) -> None:
    """Where things are is said all the same."""
    home = Home(tmp_path / "home").create()
    home.log.write_bytes(b"no log" * 1000)
    assert "it can't be read now" in run("privacy").stdout
