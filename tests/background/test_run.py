"""The companion as a process that runs all day."""

import logging
import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import psutil
import pytest

from companion.background.run import LOG_BYTES, _alone, _LogFile, engine_for
from companion.lesson.event import CompanionRestarted
from companion.lesson.span import STOOD_STILL, Stretch
from companion.listening.engines import Voice
from companion.live.ticks import STOOD_STILL_S
from companion.log.store import open_log
from companion.paths import Home
from tests.rig import Screen
from tests.rig_sound import SoundRig
from tests.running import Companion
from tests.school_day import SETTINGS
from tests.waiting import until

TOLERATED_GAP_MS = 120_000


@pytest.fixture
def companion(tmp_path: Path, sound_rig: SoundRig, no_screen: None) -> Iterator[Companion]:
    """Give a companion that runs, on a machine with a microphone and no screen."""
    assert sound_rig.server.poll() is None
    assert no_screen is None
    companion = Companion(tmp_path / "home", SETTINGS)
    companion.start()
    yield companion
    companion.end()


def test_a_lesson_by_commands_alone(companion: Companion) -> None:
    """Open, mark, move on, take back, pause, close: each says what it did, and the log agrees."""
    said = [
        companion.command(*words.split()).stdout
        for words in (
            "open 4-Hazel",
            "mark praise",
            "mark praise --table four",
            "mark reminder",
            "undo",
            "phase",
            "phase cleanup",
            "pause",
        )
    ]
    assert "4-Hazel is open, in 'arrival'" in said[0]
    assert "2 praises, 1 reminder, margin +1" in said[3]
    assert "2 praises, 0 reminders, margin +2" in said[4]
    assert said[5:7] == ["in 'work time'\n", "in 'cleanup'\n"]
    status = companion.command("status").stdout
    assert [line.split(":")[0] for line in status.splitlines()] == [
        "session",
        "phase",
        "count",
        "last mark",
        "microphone",
        "keys",
        "engine",
        "voice",
        "coming",
        "to review",
        "promises",
        "trouble",
    ]
    assert "4-Hazel" in status
    assert "closed: listening is paused" in status
    assert "there is no screen" in status
    closed = companion.command("close")
    assert "2 praise" in closed.stdout
    nothing = companion.command("mark", "praise")
    assert (nothing.returncode, "No session is open" in nothing.stderr) == (2, True)
    with open_log(companion.home.log) as log:
        assert [(mark.scope, mark.phase) for mark in log.find().standing] == [
            ("class", "arrival"),
            ("table four", "arrival"),
        ]


def test_an_unplanned_lesson_is_named_while_it_goes_on_and_after_the_program_has_ended(
    companion: Companion,
) -> None:
    """The running companion records it, and without one the command does."""
    companion.command("open", "unplanned")
    assert "one of 4-Hazel now" in companion.command("name", "4-Hazel").stdout
    assert "4-Hazel" in companion.command("status").stdout
    companion.end()
    assert "one of 2-Birch now" in companion.command("name", "2-Birch").stdout
    assert companion.command("name", "2-Birch", "--plan", "nonsense").returncode == 2
    with open_log(companion.home.log) as log:
        assert [summary.class_group for summary in log.summaries()] == ["2-Birch"]


def test_only_one_runs_and_a_crash_frees_its_place(companion: Companion) -> None:
    """A second one says so and changes nothing; after SIGKILL the next one starts at once."""
    second = companion.command("run")
    assert second.returncode == 2
    assert "running already" in second.stderr
    assert companion.answers()
    companion.kill()
    assert "not running" in companion.command("status").stderr
    assert companion.command("start").returncode == 0
    assert companion.answers()
    assert companion.command("stop").returncode == 0
    assert not companion.answers()


def test_a_logout_in_mid_lesson_ends_cleanly_and_the_lesson_goes_on_later(companion: Companion) -> None:
    """SIGTERM ends it with status 0, and the next start has the session, its phase and its count."""
    session = companion.ask(do="open", class_group="4-Hazel", plan=None, room="")["session"]
    companion.mark()
    companion.ask(do="command", action="next phase")
    assert companion.end() == 0
    companion.start()
    told = companion.mark()
    assert told is not None
    assert (told["session"], told["praise"], told["phase"]) == (session, 2, "work time")


def test_killed_twice_at_random_moments_nothing_confirmed_is_lost(companion: Companion) -> None:
    """Every mark whose confirmation came is in the log once, and each gap is there too."""
    session = companion.ask(do="open", class_group="4-Hazel", plan=None, room="")["session"]
    confirmed = 0
    for seed in range(2):
        wait_s = random.Random(seed).uniform(0.1, 1.2)
        threading.Timer(wait_s, os.kill, [companion.process.pid, signal.SIGKILL]).start()
        while companion.process.poll() is None:
            confirmed += companion.mark() is not None
        companion.start()
    with open_log(companion.home.log) as log:
        events, found = log.events(session), log.session(session)
    assert confirmed > 0
    assert confirmed <= found.praise <= confirmed + 2
    assert [event.seq for event in events] == list(range(1, len(events) + 1))
    gaps = [event.body for event in events if isinstance(event.body, CompanionRestarted)]
    assert len(gaps) == 2
    assert all(0 <= gap.at_ms - gap.last_ms < TOLERATED_GAP_MS for gap in gaps)
    offsets = [event.offset_ms for event in events]
    assert offsets == sorted(offsets)


def test_the_programs_own_log_names_nobody_and_says_nothing_that_was_heard(companion: Companion) -> None:
    """Neither class group nor phrase nor note stands in it, and others can't read it."""
    companion.command("open", "4-Hazel")
    companion.command("mark", "praise")
    companion.command("jot", "health office")
    companion.command("close")
    path = companion.home.run / "companion.log"
    text = path.read_text()
    assert "a session was opened" in text
    for word in ("Hazel", "praise", "lovely", "health"):
        assert word not in text
    assert path.stat().st_mode & 0o777 == 0o600
    assert companion.home.run.stat().st_mode & 0o777 == 0o700


def test_settings_that_change_in_mid_lesson_hold_when_it_is_over(tmp_path: Path, screen: Screen) -> None:
    """A slip is told and harms nothing; mended, a new key and a new plan hold for the next lesson."""
    companion = Companion(tmp_path / "home", SETTINGS)
    companion.start()
    companion.command("open", "4-Hazel")
    companion.home.settings.write_text(SETTINGS.replace('press = "f9"', 'press = "q"'))
    assert until(lambda: "plain character" in companion.ask(do="status")["trouble"])
    screen.tap("F9")
    assert until(lambda: "1 praise" in companion.ask(do="status")["count"])
    companion.home.settings.write_text(SETTINGS.replace('press = "f9"', 'press = "f7"'))
    assert until(lambda: "when this lesson is closed" in companion.ask(do="status")["trouble"])
    companion.command("open", "2-Birch")
    assert "when this lesson is closed" not in companion.ask(do="status")["trouble"]
    screen.tap("F9")
    screen.tap("F7")
    assert until(lambda: "1 praise" in companion.ask(do="status")["count"])
    assert companion.end() == 0
    with open_log(companion.home.log) as log:
        assert [summary.praise for summary in log.summaries()] == [1, 1]


def test_without_settings_it_says_how_to_get_some(tmp_path: Path) -> None:
    """Neither run nor start leaves anything behind."""
    companion = Companion(tmp_path / "home", "")
    companion.home.settings.unlink()
    for command in ("run", "start"):
        done = companion.command(command)
        assert done.returncode == 2
        assert f'companion --home "{companion.home.folder}" init' in done.stderr
    assert not companion.answers()


def test_the_recogniser_ends_with_a_companion_that_is_killed(companion: Companion) -> None:
    """No process is left over that would listen on."""
    companion.ask(do="open", class_group="4-Hazel", plan=None, room="")
    running = psutil.Process(companion.process.pid)
    assert until(lambda: any("spawn_main" in " ".join(child.cmdline()) for child in running.children()))
    children = running.children()
    companion.kill()
    gone, left = psutil.wait_procs(children, timeout=60)
    assert gone
    assert left == []


def test_a_program_that_stood_still_was_deaf_meanwhile(companion: Companion) -> None:
    """As when a lid is closed: the stretch is in the log as not heard, and the lesson goes on.

    What is asked meanwhile is told that it runs and does not answer; nothing is done beside it.
    """
    companion.ask(do="open", class_group="4-Hazel", plan=None, room="")
    os.kill(companion.process.pid, signal.SIGSTOP)
    frozen_s = time.monotonic()
    for words in ("status", "stop", "close", "pages"):
        told = companion.command(words)
        assert (told.returncode, "runs, but does not answer" in told.stderr) == (2, True), told
    assert "running already" in companion.command("start").stderr
    assert time.monotonic() - frozen_s > STOOD_STILL_S + 1
    os.kill(companion.process.pid, signal.SIGCONT)

    def stood_still() -> list[Stretch]:
        with open_log(companion.home.log) as log:
            return [stretch for stretch in log.find().unheard if stretch.reason == STOOD_STILL]

    assert until(lambda: len(stood_still()) == 1)
    (stretch,) = stood_still()
    assert stretch.ended_ms is not None
    assert stretch.ended_ms - stretch.began_ms >= STOOD_STILL_S * 1000
    assert companion.mark() is not None


@pytest.mark.parametrize("small_file", ["run/control.json", "run/ear-of.txt", "run/companion.log"])
def test_a_disk_that_takes_no_small_file_is_told_in_a_sentence(tmp_path: Path, small_file: str) -> None:
    """It does not begin, and says so; nothing else is left running."""
    home = Home(tmp_path / "home").create()
    home.settings.write_text(SETTINGS, encoding="utf-8")
    (home.folder / small_file / "in the way").mkdir(parents=True)
    told = subprocess.run(
        [sys.executable, "-m", "companion", "--home", str(home.folder), "run"],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert told.returncode == 2
    assert "Traceback" not in told.stderr
    assert "Free or unlock the disk" in told.stderr


def test_a_full_disk_prints_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    """A line that the program's own log can't take is left out, without a traceback in the window."""
    handler = _LogFile("/dev/full", maxBytes=LOG_BYTES)
    handler.handle(logging.makeLogRecord({"msg": "the log can't be written"}))
    with suppress(OSError):
        handler.close()
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize(
    ("engine", "for_a_guest"), [("enrolled", "auto"), ("auto", "auto"), ("vosk", "vosk")]
)
def test_a_guest_is_not_listened_to_by_what_was_learnt_of_the_teacher(
    tmp_path: Path, engine: str, for_a_guest: str
) -> None:
    """Its voice would refuse every word of theirs."""
    home = Home(tmp_path)
    assert engine_for(home, engine, by_guest=False) == (
        engine,
        Voice(features=home.voice, models=home.models),
    )
    assert engine_for(home, engine, by_guest=True) == (for_a_guest, Voice(models=home.models))


def test_a_dead_companions_address_is_gone_before_the_next_one_answers(tmp_path: Path) -> None:
    """Whoever has its port by now hears nothing from those who wait for the new one."""
    home = Home(tmp_path / "home").create()
    home.run.mkdir()
    home.control.write_text('{"port": 1, "key": "00"}', encoding="utf-8")
    with _alone(home):
        assert not home.control.exists()
