"""Several teachers in one room: settings and lessons of their own, and one ear."""

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from companion.background.run import _only_ear
from companion.cli import cli
from companion.errors import CompanionError
from companion.paths import Home


def run(home: Path, *arguments: str) -> Result:
    """Run the command line on `home`."""
    return CliRunner().invoke(cli, ["--home", str(home), *arguments])


def test_only_one_companion_of_a_room_listens(tmp_path: Path) -> None:
    """Whoever began first; the other is told whose it is, and how to end it."""
    first = Home(tmp_path / "home").create()
    music, science = (first.of_profile(name).create() for name in ("music", "science"))
    assert (first.profile, music.profile, music.first, music.of_profile("science")) == (
        "",
        "music",
        first,
        science,
    )
    with _only_ear(music):
        for other in (first, science):
            with pytest.raises(CompanionError, match=r"of music is running.*--profile .music. stop"):
                _only_ear(other).__enter__()
    with (
        _only_ear(first),
        pytest.raises(CompanionError, match=r"of the first profile is running.*: companion --home .* stop"),
    ):
        _only_ear(music).__enter__()


def test_a_profile_has_settings_and_lessons_of_its_own(tmp_path: Path) -> None:
    """It begins with init; a name that is none, or is not there yet, is told."""
    home = tmp_path / "home"
    home.mkdir()
    assert "There is no profile “music” yet" in str(run(home, "--profile", "music", "sessions").exception)
    assert "can't be the name of a profile" in str(run(home, "--profile", "../music", "init").exception)
    assert run(home, "--profile", "music", "init", "--yes").exit_code == 0
    assert (home / "profiles" / "music" / "companion.toml").exists()
    assert not (home / "companion.toml").exists()
