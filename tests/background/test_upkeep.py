"""What the companion does for the log by itself."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from companion.background import upkeep
from companion.background.upkeep import QUIET_S, Upkeep, look_at_log
from companion.lesson.mark import Source
from companion.lesson.opening import Opening
from companion.live.live import Live
from companion.log import copies
from companion.log.copies import backups
from companion.log.damage import NEWEST, Damage, damages
from companion.log.forget import forgotten_since
from companion.log.store import open_log
from companion.log.traces import traces
from companion.pages.keys import Doorway
from companion.paths import Home
from companion.school.week_file import is_whole
from companion.settings.settings import parse_settings
from tests.log.test_damage import meddle
from tests.log.test_forget import SECRET, noted
from tests.pages.lessons import write_lesson
from tests.rig_sound import SoundRig
from tests.running import Companion
from tests.school.test_sharing import hold
from tests.school_day import EIGHT, SETTINGS, HandClock, settings


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a home with a log of two lessons."""
    home = Home(tmp_path / "home").create()
    for _ in range(2):
        write_lesson(home.log)
    return home


@pytest.fixture
def day(home: Home) -> Iterator[tuple[Upkeep, Live, HandClock]]:
    """Return a companion that does not listen, and what looks after its log, on a Monday at eight."""
    clock = HandClock()
    live = Live(home.log, settings(), clock=clock)
    live.start()
    yield Upkeep(home, live), live, clock
    live.stop()


def test_the_log_is_backed_up_after_a_school_day(home: Home, day: tuple[Upkeep, Live, HandClock]) -> None:
    """Once the last lesson is well over; once a day, however often that is; not during a lesson."""
    upkeep, live, clock = day
    upkeep.look()
    (first,) = backups(home.log)
    for hours in (1, 3):
        session = live.open(Opening("4-Hazel"), Source.COMMAND_LINE).result()
        clock.go_on(QUIET_S)
        upkeep.look()
        assert len(backups(home.log)) == 1
        live.close(Source.COMMAND_LINE).result()
        upkeep.look()
        assert len(backups(home.log)) == 1, hours
        clock.go_on(QUIET_S + 1)
        upkeep.look()
        upkeep.look()
        (newest,) = backups(home.log)
        assert newest.at > first.at
        with open_log(newest.path) as log:
            assert log.session(session.id).closed
    clock.go_on(86_400)
    upkeep.look()
    assert backups(home.log) == [newest]


def test_each_day_forgets_what_is_due(home: Home, day: tuple[Upkeep, Live, HandClock]) -> None:
    """By itself, in the log and its backups; a lesson that goes on is not disturbed."""
    upkeep, _, clock = day
    with open_log(home.log) as log:
        noted(log)
    upkeep.look()
    assert traces(home.folder, [SECRET])
    clock.go_on(61 * 86_400)
    upkeep.look()
    assert traces(home.folder, [SECRET]) == []
    with open_log(home.log) as log:
        assert [one.count for one in forgotten_since(log, clock.wall())] == [1]


def test_a_room_whose_settings_name_the_schools_folder_shares_its_weeks_each_day(
    home: Home, tmp_path: Path
) -> None:
    """Where it can't, that is told with the day, until it could; without a folder nothing is shared."""
    hold(home, 0, "Hazel")
    folder, clock = tmp_path / "drive", HandClock()
    named = SETTINGS.replace("[school]", f'[school]\nshared = "{folder.as_posix()}"', 1)
    live = Live(home.log, parse_settings(named, "a test"), clock=clock)
    live.start()
    upkeep = Upkeep(home, live)
    upkeep.look()
    assert "could not be shared with the school on Monday. There is no folder" in live.log_news
    folder.mkdir()
    clock.go_on(86_400)
    upkeep.look()
    assert live.log_news == ""
    (room,) = folder.iterdir()
    assert is_whole(next(room.iterdir()))
    live.stop()


def test_a_new_day_closes_the_pages_of_the_last_one(home: Home, day: tuple[Upkeep, Live, HandClock]) -> None:
    """A companion that runs for weeks gives out a new address each morning, never in a lesson."""
    upkeep, live, clock = day
    Doorway.recall(home, clock.wall().date()).keep(home)
    upkeep.look()
    first = Doorway.recall(home, EIGHT.date()).secret
    live.open(Opening("4-Hazel"), Source.COMMAND_LINE).result()
    clock.go_on(86_400)
    upkeep.look()
    assert Doorway.recall(home, EIGHT.date()).secret == first
    live.close(Source.COMMAND_LINE).result()
    upkeep.look()
    assert Doorway.recall(home, clock.wall().date()).secret != first


def test_sessions_that_are_not_as_recorded_are_told_and_the_lesson_goes_on(home: Home) -> None:
    """The file as a whole is sound, and so stays in its place."""
    copies.back_up(home.log, "day", EIGHT - timedelta(days=1))
    meddle(home.log, "DELETE FROM event WHERE seq = 3")
    news = look_at_log(home, EIGHT)
    assert "Event 3 is missing" in news
    assert "companion log restore" in news
    assert copies.waiting(home.log) == []


def test_damage_in_an_old_session_is_found_on_the_day_before_anything_is_taken_out(
    home: Home, day: tuple[Upkeep, Live, HandClock]
) -> None:
    """A start reads the newest sessions only; the first look of a day reads all, and its backup says it."""
    upkeep, live, clock = day
    for _ in range(NEWEST):
        write_lesson(home.log)
    with open_log(home.log) as log:
        oldest = min(summary.session for summary in log.summaries())
    upkeep.look()
    assert live.log_news == ""
    meddle(home.log, f"UPDATE event SET offset_ms = offset_ms + 7 WHERE seq = 3 AND session = '{oldest}'")
    assert look_at_log(home, EIGHT) == ""
    live.open(Opening("4-Hazel"), Source.COMMAND_LINE).result()
    live.close(Source.COMMAND_LINE).result()
    clock.go_on(86_400)
    upkeep.look()
    assert f"{oldest}: Something in it was changed" in live.log_news
    assert backups(home.log)[0].damaged


def test_a_damaged_log_is_set_aside_and_lessons_go_on(
    home: Home, sound_rig: SoundRig, no_screen: None
) -> None:
    """Told in the status; a lesson is held at once in a new log; salvaged, both are one log again."""
    assert sound_rig.server.poll() is None
    assert no_screen is None
    whole = home.log.read_bytes()
    home.log.write_bytes(whole[:8192] + b"\xff" * 4096 + whole[12288:])
    companion = Companion(home.folder, SETTINGS)
    try:
        assert "set aside untouched" in companion.command("start").stdout
        assert "set aside untouched" in companion.ask(do="status")["trouble"]
        companion.ask(do="open", class_group="5-Oak", plan=None, room="")
        assert companion.mark()
        companion.ask(do="close")
        (aside,) = copies.waiting(home.log)
        harmed = aside.read_bytes()
        done = companion.command("log", "salvage")
        assert "could be read" in done.stdout, done
    finally:
        assert companion.command("stop").returncode == 0
    assert damages(home.log) == []
    with open_log(home.log) as log:
        assert [one.praise for one in log.summaries("5-Oak")] == [1]
        assert len(log.summaries()) > 1
    (kept,) = copies.all_set_aside(home.log)
    assert kept.read_bytes() == harmed
    assert [one.reason for one in backups(home.log)] == ["day"]


def test_a_disk_that_was_away_for_a_moment_costs_nobody_a_good_log(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What SQLite calls malformed since the disk could not read it is looked at again, and goes on."""
    whole, looks = [Damage("Pages of the file are damaged.")], []

    def away(path: Path, *, newest: int | None = None) -> list[Damage]:
        looks.append(path)
        return whole if len(looks) < upkeep.LOOKS else damages(path, newest=newest)

    monkeypatch.setattr(upkeep, "damages", away)
    monkeypatch.setattr(upkeep, "BETWEEN_LOOKS_S", 0.0)
    assert look_at_log(home, EIGHT) == ""
    assert copies.all_set_aside(home.log) == []
    monkeypatch.setattr(upkeep, "damages", lambda *_, **__: whole)
    assert "set aside" in look_at_log(home, EIGHT)


def test_a_log_that_is_set_aside_in_mid_lesson_is_told_until_it_is_taken_up(
    home: Home, day: tuple[Upkeep, Live, HandClock]
) -> None:
    """As one into whose file something else was copied."""
    upkeep, live, _ = day
    upkeep.look()
    aside = copies.set_aside(home.log, EIGHT)
    upkeep.look()
    assert "companion log salvage" in live.log_news
    copies.salvaged(aside)
    upkeep.look()
    assert live.log_news == ""
