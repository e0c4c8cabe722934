"""Start-up entries of the three systems, each written into a home of the test's own."""

import plistlib
import re
from pathlib import Path

import pytest

from companion.background.autostart import AutostartEntry, entry_for, switch_off, switch_on
from companion.errors import CompanionError
from tests.systems import makes_links

COMMAND = ("/home/a teacher/50% $HOME/python", "-m", "companion", "run")


@pytest.mark.parametrize(
    ("platform", "place"),
    [
        ("linux", ".config/systemd/user/lesson-companion.service"),
        ("darwin", "Library/LaunchAgents/school.lesson-companion.plist"),
        ("win32", "AppData/Roaming/Microsoft/Windows/Start Menu/Programs/Startup/lesson-companion.cmd"),
    ],
)
def test_an_entry_comes_and_goes(tmp_path: Path, platform: str, place: str) -> None:
    """On writes one file where the system looks for it, twice is no harm, off leaves nothing behind."""
    entry = entry_for(platform, tmp_path, COMMAND)
    switch_on(entry)
    switch_on(entry)
    assert (tmp_path / place).read_bytes().decode() == entry.text
    assert switch_off(entry)
    assert not switch_off(entry)
    assert not [path for path in tmp_path.rglob("*") if not path.is_dir()]


@makes_links
def test_linux_starts_it_with_the_desktop_and_keeps_it_running(tmp_path: Path) -> None:
    """The unit is linked to the graphical session, quotes its command, and is not restarted in vain."""
    entry = entry_for("linux", tmp_path, COMMAND)
    switch_on(entry)
    wanted = tmp_path / ".config/systemd/user/graphical-session.target.wants/lesson-companion.service"
    assert wanted.resolve() == entry.path
    assert 'ExecStart="/home/a teacher/50%% $$HOME/python" "-m" "companion" "run"' in entry.text
    assert "RestartPreventExitStatus=2" in entry.text


def test_linux_obeys_the_chosen_configuration_folder(tmp_path: Path) -> None:
    """XDG_CONFIG_HOME moves the unit."""
    entry = entry_for("linux", tmp_path, COMMAND, {"XDG_CONFIG_HOME": str(tmp_path / "elsewhere")})
    assert entry.path.is_relative_to(tmp_path / "elsewhere")


def test_macos_gets_a_property_list(tmp_path: Path) -> None:
    """The agent names the command word by word, starts at log-in and comes back after a crash only."""
    settings = plistlib.loads(entry_for("darwin", tmp_path, COMMAND).text.encode())
    assert settings["ProgramArguments"] == list(COMMAND)
    assert settings["RunAtLoad"] is True
    assert settings["KeepAlive"] == {"Crashed": True}


def test_windows_starts_it_without_a_window(tmp_path: Path) -> None:
    """The file is UTF-8, doubles percent signs, starts it without a console, and again after a crash."""
    command = (r"C:\Users\José 100%\python.exe", "-m", "companion", "run")
    text = entry_for("win32", tmp_path, command, {"APPDATA": str(tmp_path)}).text
    assert r'@start "" /b "C:\Users\José 100%%\pythonw.exe" -m companion.background.again' in text
    assert text.startswith("@chcp 65001")
    assert not re.search(r"(?<!\r)\n", text)


def test_an_unknown_system_is_told_what_to_do(tmp_path: Path) -> None:
    """Where no form is known the error says how to do it by hand."""
    with pytest.raises(CompanionError, match="companion run"):
        entry_for("plan9", tmp_path, COMMAND)


def test_an_entry_that_can_not_be_written_is_reported(tmp_path: Path) -> None:
    """A file in the way of the folder gives a plain sentence with the path."""
    (tmp_path / "blocked").write_text("")
    with pytest.raises(CompanionError, match="blocked"):
        switch_on(AutostartEntry(tmp_path / "blocked" / "entry", "text"))
