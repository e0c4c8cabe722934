"""`companion school` as it is called, from rooms to the school's answers."""

import json
import shutil
import sys
from datetime import datetime
from pathlib import Path

import pytest

from companion.bench.school_years import ZONE, fill
from tests.commands.conftest import Run


@pytest.fixture(scope="module")
def rooms(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the logs of three rooms, each with nine weeks of lessons."""
    folder = tmp_path_factory.mktemp("rooms")
    for seed in range(3):
        fill(folder / f"{seed}.db", 140, seed=seed, ends=datetime.now(ZONE))
    return folder


def test_rooms_share_and_the_school_is_told_sums(rooms: Path, call: Run, tmp_path: Path) -> None:
    """In words, as JSON and as a sheet; no room is told by itself."""
    drive, home = tmp_path / "drive", tmp_path / "home"
    drive.mkdir()
    home.mkdir()
    for log in sorted(rooms.iterdir()):
        shutil.copy(log, home / "sessions.db")
        (home / "room-sign").unlink(missing_ok=True)
        shared = call("school", drive, "--share")
        assert "140 lessons in 4 week files are in" in shared.stdout
        assert "Your school's policy" in shared.stderr
        assert call("school", drive, "--share").stdout.startswith("Nothing new")
    told = call("school", drive).stdout
    assert told.startswith("420 new lessons from 12 files.\nAll rooms, 105 lessons")
    for words in ("By grade\n- 1: ", "- arrival: a mark in ", "Recognitions by grade", "Taught again: "):
        assert words in told
    again = call("school", drive, "--json", "--since", "2020-01-01")
    found = json.loads(again.stdout)
    assert found["lessons"] == sum(sum(one["lessons"].values()) for one in found["by_grade"])
    assert not any(folder.name in again.stdout for folder in drive.iterdir()), "the room's sign is not told"
    sheet = tmp_path / "sheet.html"
    call("school", drive, "--html", sheet)
    page = sheet.read_text(encoding="utf-8")
    assert f"{found['lessons']} lessons" in page
    assert "<script" not in page
    nowhere = call("school", drive, "--html", tmp_path / "gone" / "sheet.html", code=2).stderr
    assert "can't be written to" in nowhere


def test_nothing_is_told_of_one_room(rooms: Path, call: Run, tmp_path: Path) -> None:
    """The rule says why."""
    (tmp_path / "drive").mkdir()
    shutil.copy(rooms / "0.db", tmp_path / "drive" / "garden.db")
    told = call("school", tmp_path / "drive").stdout
    assert "Nothing can be told yet.\nOnly sums over at least three rooms" in told


def test_what_is_wrong_is_told(call: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder that is not there, days in the wrong order, and a part that is not installed."""
    (tmp_path / "home").mkdir()
    assert "There is no folder" in call("school", tmp_path / "gone", code=2).stderr
    assert "There is no folder" in call("school", tmp_path / "gone", "--share", code=2).stderr
    wrong = call("school", tmp_path, "--since", "2026-02-02", "--to", "2026-01-01", code=2)
    assert "lies after the last one" in wrong.stderr
    monkeypatch.setitem(sys.modules, "duckdb", None)
    assert "a part that is not installed" in call("school", tmp_path, code=2).stderr
