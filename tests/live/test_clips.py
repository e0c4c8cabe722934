"""Sound of candidates: in memory until settled, and on disk only by an explicit setting."""

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
import soundfile

from companion.errors import CompanionError
from companion.listening.sound import SAMPLE_RATE
from companion.live.clip_folder import ClipFolder
from companion.live.clips import MOST, Clips
from companion.settings.settings import parse_settings
from tests.school_day import SETTINGS

SOUND = np.arange(SAMPLE_RATE, dtype=np.int16)
LAST = date(2026, 12, 1)


def test_a_session_that_is_forgotten_leaves_the_others() -> None:
    """Settling one class takes only its own sounds."""
    clips = Clips()
    clips.keep("a", "m3", SOUND, LAST)
    clips.keep("a", "c4", SOUND, LAST)
    clips.keep("b", "m3", SOUND, LAST)
    assert clips.items("a") == {"m3", "c4"}
    clips.forget("a")
    assert clips.items("a") == frozenset()
    assert clips.sessions == {"b"}


def test_memory_holds_a_limited_number_and_lets_the_oldest_go() -> None:
    """A week of unsettled classes does not fill the computer."""
    clips = Clips()
    for number in range(MOST + 5):
        clips.keep("a", f"m{number}", SOUND, LAST)
    assert len(clips.items("a")) == MOST
    assert clips.get("a", "m4") is None
    assert clips.get("a", "m5") is SOUND


def test_nothing_is_written_without_the_setting_or_after_its_last_day(tmp_path: Path) -> None:
    """By default no sound ever reaches the disk."""
    ClipFolder(tmp_path / "clips", None).keep("a", "m3", SOUND, LAST)
    ClipFolder(tmp_path / "clips", LAST).keep("a", "m3", SOUND, LAST + timedelta(days=1))
    assert list(tmp_path.iterdir()) == []


def test_kept_sound_is_private_and_gone_after_its_last_day(tmp_path: Path) -> None:
    """The file is the sound; the day after, or with the setting taken out, the folder is removed."""
    kept = ClipFolder(tmp_path / "clips", LAST)
    kept.keep("a", "m3", SOUND, LAST)
    path = tmp_path / "clips" / "a" / "m3.flac"
    assert np.array_equal(soundfile.read(path, dtype="int16")[0], SOUND)
    assert path.stat().st_mode & 0o777 == 0o600
    assert not kept.purge(LAST)
    assert ClipFolder(tmp_path / "clips", None).purge(LAST)
    assert list(tmp_path.iterdir()) == []


def test_a_disk_that_takes_no_clip_does_not_fail_the_mark(tmp_path: Path) -> None:
    """The clip is a help; what cannot be kept is only noted."""
    (tmp_path / "clips").write_text("a file where the folder should be")
    ClipFolder(tmp_path / "clips", LAST).keep("a", "m3", SOUND, LAST)


def test_the_setting_needs_a_date() -> None:
    """Keeping sound for ever can't be set."""
    wanted = SETTINGS.replace("[school]", "[listening]\nkeep_clips_until = true\n\n[school]", 1)
    with pytest.raises(CompanionError, match="keep_clips_until"):
        parse_settings(wanted, "companion.toml")


def test_kept_sound_is_there_after_a_restart_until_it_is_purged(tmp_path: Path) -> None:
    """Another run offers what is on disk beside what it has in memory, and after the last day neither."""
    Clips(ClipFolder(tmp_path / "clips", LAST)).keep("a", "m3", SOUND, LAST)
    later = Clips(ClipFolder(tmp_path / "clips", LAST))
    later.keep("a", "c4", SOUND, LAST)
    assert later.items("a") == {"m3", "c4"}
    found = later.get("a", "m3")
    assert found is not None
    assert np.array_equal(found, SOUND)
    later.forget("a")
    assert later.items("a") == {"m3", "c4"}
    assert later.purge(LAST, LAST + timedelta(days=1))
    assert later.items("a") == frozenset()
    assert later.get("a", "m3") is None


def test_an_address_that_is_no_session_reaches_no_file(tmp_path: Path) -> None:
    """What a page asks for is looked for among the clips only; a damaged clip is as good as none."""
    kept = ClipFolder(tmp_path / "clips", LAST)
    kept.keep("a", "m3", SOUND, LAST)
    (tmp_path / "m9.flac").write_bytes((tmp_path / "clips" / "a" / "m3.flac").read_bytes())
    assert kept.get("..", "m9") is None
    assert kept.get("a", "../../m9") is None
    (tmp_path / "clips" / "a" / "m3.flac").write_bytes(b"no sound")
    assert kept.get("a", "m3") is None


def test_a_session_that_is_purged_takes_its_sounds_from_the_disk(tmp_path: Path) -> None:
    """The others stay."""
    kept = ClipFolder(tmp_path / "clips", LAST)
    kept.keep("a", "m3", SOUND, LAST)
    kept.keep("b", "m3", SOUND, LAST)
    kept.forget("a")
    assert kept.items("a") == frozenset()
    assert kept.items("b") == {"m3"}
