"""The sign of life beside the log."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from companion.recording.heartbeat import Heartbeat

AT = datetime(2026, 9, 14, 9, 10, tzinfo=UTC)


def test_the_last_beat_of_a_session_is_known_until_it_is_over(tmp_path: Path) -> None:
    """Also to the companion that is started next; of another session it says nothing."""
    beating = Heartbeat(tmp_path / "watched.json")
    beating.beat("one", 1_000, AT)
    beating.beat("one", 2_000, AT)
    assert Heartbeat(tmp_path / "watched.json").last("one") == (2_000, AT)
    assert beating.last("two") is None
    assert [path.name for path in tmp_path.iterdir()] == ["watched.json"]
    beating.stop()
    beating.stop()
    assert beating.last("one") is None
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "torn", ["", "{", "[]", '{"session": "one"}', '{"session": "one", "ms": 1, "at": "x"}']
)
def test_a_torn_beat_is_none(tmp_path: Path, torn: str) -> None:
    """It is a help and no record."""
    (tmp_path / "watched.json").write_text(torn)
    assert Heartbeat(tmp_path / "watched.json").last("one") is None


def test_a_folder_that_is_gone_stops_no_lesson(tmp_path: Path) -> None:
    """Nothing is raised, and nothing is known."""
    beating = Heartbeat(tmp_path / "gone" / "watched.json")
    beating.beat("one", 1_000, AT)
    beating.stop()
    assert beating.last("one") is None
