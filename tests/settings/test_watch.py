"""A settings file that changes while the companion runs."""

from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.settings.watch import SettingsWatch
from tests.school_day import SETTINGS


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Give a settings file."""
    path = tmp_path / "companion.toml"
    path.write_text(SETTINGS)
    return path


def test_a_change_is_seen_and_an_unchanged_file_is_not_read_again(file: Path) -> None:
    """The settings stay the same object until the file changes."""
    watch = SettingsWatch(file)
    before = watch.settings
    assert watch.look() is before
    file.write_text(SETTINGS.replace("garden and kitchen", "music room"))
    assert watch.look().school.room == "music room"
    assert watch.news(before) == "The changed settings are taken up when this lesson is closed."
    assert watch.news(watch.settings) == ""


def test_settings_that_can_not_be_used_are_told_and_those_of_before_stay(file: Path) -> None:
    """A slip in an editor, or a file that is gone, changes nothing; mended, it is taken."""
    watch = SettingsWatch(file)
    file.write_text(SETTINGS.replace("minutes = 30", "minutes = -30"))
    assert watch.look().plan().phases[1].minutes == 30
    assert "plans[1].phases[2].minutes = -30" in watch.news(watch.settings)
    file.unlink()
    watch.look()
    assert "companion init" in watch.trouble
    file.write_text(SETTINGS)
    watch.look()
    assert watch.trouble == ""


def test_the_first_settings_must_be_usable(tmp_path: Path) -> None:
    """Without any there is nothing to go on with."""
    with pytest.raises(CompanionError, match="companion init"):
        SettingsWatch(tmp_path / "companion.toml")
