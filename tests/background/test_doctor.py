"""What the doctor finds, on real parts."""

import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
import soundfile

from companion.background.doctor import _engine_finding, can_be_held, examine
from companion.language import LANGUAGES, Language, speaking
from companion.lesson.mark import Source
from companion.lesson.opening import Opening
from companion.listening.microphone.files import whole
from companion.listening.sound import SAMPLE_RATE
from companion.listening.trial import Trial
from companion.live.live import Live
from companion.log.copies import set_aside
from companion.log.store import open_log
from companion.pages.house import Finding, Verdict
from companion.paths import Home
from companion.samples.sample import bundled_sample
from tests.log.test_damage import meddle
from tests.pages.days import CLOSED, hold, marked
from tests.rig import Screen
from tests.rig_sound import SoundRig
from tests.school_day import EIGHT, SETTINGS, TIMETABLE, HandClock, settings

SILENT = SETTINGS.split("[[phrases]]")[0] + "[[levels]]" + SETTINGS.split("[[levels]]", 1)[1]
"""The same school without phrases: neither microphone nor engine is needed."""
LESSON = '[[timetable.lessons]]\nday = "mon"\nperiod = "one"\nclass_group = "{class_group}"\n'


def found(home: Home, clock: HandClock | None = None, *, last: str = "what leaves") -> dict[str, Finding]:
    """Return the findings up to `last` by what they are about."""
    findings = {}
    for finding in examine(home, clock):
        findings[finding.about] = finding
        if finding.about == last:
            break
    return findings


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Give a home with settings."""
    home = Home(tmp_path / "home").create()
    home.settings.write_text(SETTINGS)
    return home


def test_a_name_that_no_font_draws_is_told_with_the_letters_and_the_remedy(home: Home) -> None:
    """A class of the timetable, with a letter that nobody has; the class would see an empty box."""
    assert found(home, last="lettering")["lettering"].verdict is Verdict.GOOD
    written = "\n".join((SILENT, TIMETABLE, LESSON.format(class_group="4-\ue000")))
    home.settings.write_text(written, encoding="utf-8")
    finding = found(home, last="lettering")["lettering"]
    assert finding.verdict is Verdict.WARNING
    assert "no font draws \ue000" in finding.words
    assert "fonts-noto-cjk" in finding.remedy


def test_a_log_that_was_changed_or_set_aside_is_told_with_what_to_do(home: Home) -> None:
    """A lesson can be held all the same: the log takes marks."""
    with open_log(home.log) as log:
        session = hold(log, "4-Hazel", EIGHT, *marked(2), CLOSED)
    assert "session log" not in found(home, last="settings")
    meddle(home.log, f"DELETE FROM event WHERE session = '{session.id}' AND seq = 3")
    finding = found(home, last="settings")["session log"]
    assert finding.verdict is Verdict.WARNING
    assert "Event 3 is missing" in finding.words
    assert "companion log salvage" in finding.remedy
    set_aside(home.log, EIGHT)
    finding = found(home, last="settings")["session log"]
    assert finding.verdict is Verdict.WARNING
    assert "was set aside untouched" in finding.words
    assert "companion log salvage" in finding.remedy


def test_a_language_that_no_font_draws_is_told_too(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every page would be of empty boxes."""
    monkeypatch.setitem(LANGUAGES, "ko", Language("\ue001"))
    with speaking("ko"):
        finding = found(home, last="lettering")["lettering"]
    assert finding.verdict is Verdict.WARNING
    assert "\ue001" in finding.words


def test_where_all_is_well_a_lesson_can_be_held(home: Home, sound_rig: SoundRig, screen: Screen) -> None:
    """Microphone, engine and keys are really tried, and each says its figures."""
    noise = np.random.default_rng(1).normal(0, 900, 300 * SAMPLE_RATE).astype("int16")
    soundfile.write(home.folder / "n.wav", noise, SAMPLE_RATE)
    player = sound_rig.play(home.folder / "n.wav")
    assert screen.display
    findings = found(home)
    player.kill()
    player.wait()
    assert {about for about, finding in findings.items() if finding.verdict is not Verdict.GOOD} <= {
        "companion",
        "engine",
    }
    assert "none is ever written" in findings["sound on disk"].words
    assert "dBFS" in findings["microphone"].words
    assert "of a core" in findings["engine"].words
    assert "nothing, in" in findings["what leaves"].words
    assert "2 gestures" in findings["keys"].words


@pytest.mark.usefixtures("no_screen")
def test_a_muted_microphone_stops_a_lesson_and_a_missing_screen_does_not(
    home: Home, sound_rig: SoundRig
) -> None:
    """Each has its remedy; keys that can't work leave voice and page."""
    sound_rig.mute(on=True)
    findings = found(home, last="screen")
    assert findings["microphone"].verdict is Verdict.BAD
    assert "mute" in findings["microphone"].remedy
    for about in ("keys", "screen"):
        assert findings[about].verdict is Verdict.WARNING
        assert findings[about].remedy
    assert not can_be_held(list(findings.values()))


@pytest.mark.usefixtures("no_screen")
def test_a_microphone_that_is_turned_far_down_or_unplugged_stops_a_lesson(
    home: Home, sound_rig: SoundRig, tmp_path: Path
) -> None:
    """Speech below what can be heard is told from a quiet room; what a server gives for none, from a mute."""
    speech = whole(bundled_sample("calm-garden").sound)[20 * SAMPLE_RATE : 60 * SAMPLE_RATE]
    soundfile.write(tmp_path / "speech.wav", np.tile(speech, 8), SAMPLE_RATE)
    sound_rig.set_level(2)
    player = sound_rig.play(tmp_path / "speech.wav")
    finding = found(home, last="microphone")["microphone"]
    assert finding.verdict is Verdict.BAD
    assert "far too quietly" in finding.words
    assert "level up" in finding.remedy
    sound_rig.unplug()
    finding = found(home, last="microphone")["microphone"]
    assert (finding.verdict, finding.words) == (Verdict.BAD, "there is none")
    player.kill()
    player.wait()


@pytest.mark.usefixtures("no_screen")
def test_without_phrases_neither_microphone_nor_engine_is_asked_for(home: Home) -> None:
    """A teacher who marks by page alone needs no sound system."""
    home.settings.write_text(SILENT)
    findings = found(home)
    assert findings["microphone"].verdict is findings["engine"].verdict is Verdict.GOOD
    assert can_be_held(list(findings.values()))


def test_settings_and_log_that_can_not_be_read_stop_a_lesson(home: Home) -> None:
    """The finding names the file, and the other checks still run."""
    home.settings.write_text("[[plans]]\nname = 3\n")
    home.log.write_bytes(b"not a database" * 200)
    findings = found(home)
    assert findings["settings"].verdict is findings["session log"].verdict is Verdict.BAD
    assert "sessions.db" in findings["session log"].words
    assert findings["disk"].verdict is Verdict.GOOD


@pytest.mark.usefixtures("no_screen")
def test_a_log_that_takes_nothing_stops_a_lesson(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    """That it can be written is tried, not taken from that it could be read."""
    open_log(home.log).close()
    monkeypatch.setattr("companion.log.file.BUSY_S", 0.1)
    with closing(sqlite3.connect(home.log, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        assert found(home, last="session log")["session log"].verdict is Verdict.BAD
        other.execute("ROLLBACK")


@pytest.mark.usefixtures("no_screen")
def test_a_phrase_that_can_not_be_heard_is_named_before_the_lesson(home: Home) -> None:
    """The others are listened for all the same."""
    home.settings.write_text(SETTINGS.replace('say = "gentle reminder"', 'say = "日本"'))
    finding = found(home, last="phrases")["phrases"]
    assert finding.verdict is Verdict.WARNING
    assert "日本" in finding.words
    assert finding.remedy


@pytest.mark.usefixtures("no_screen")
def test_a_clock_that_stands_before_the_newest_session_is_told(home: Home) -> None:
    """A laptop that lost its time would open no class at its hour."""
    home.settings.write_text(SILENT)
    clock = HandClock()
    live = Live(home.log, settings(), clock=clock)
    live.start()
    live.open(Opening("4-Hazel"), Source.KEY).result()
    live.stop()
    assert found(home, clock)["clock and log"].verdict is Verdict.GOOD
    clock.jump(timedelta(days=-900))
    assert found(home, clock)["clock"].verdict is Verdict.WARNING


@pytest.mark.usefixtures("no_screen")
def test_the_timetable_of_today_is_read_out(home: Home) -> None:
    """On a Monday the classes, on a Sunday that there is none."""
    text = SILENT + (
        '[timetable]\nbegins = 2026-08-24\nends = 2027-06-11\nzone = "America/Chicago"\n'
        '[timetable.hours.usual]\none = "08:00-08:45"\n'
        '[[timetable.lessons]]\nday = "mon"\nperiod = "one"\nclass_group = "4-Hazel"\n'
    )
    home.settings.write_text(text)
    clock = HandClock()
    assert "08:00 4-Hazel" in found(home, clock)["timetable"].words
    clock.jump(timedelta(days=-1))
    assert found(home, clock)["timetable"].verdict is Verdict.WARNING


@pytest.mark.parametrize(
    ("speed", "verdict"), [(0.2, Verdict.GOOD), (0.6, Verdict.WARNING), (1.1, Verdict.BAD)]
)
def test_an_engine_that_can_not_keep_up_stops_a_lesson(speed: float, verdict: Verdict) -> None:
    """A slow one is only told."""
    assert _engine_finding(Trial("phonemes", 1.0, speed, 200.0), "figures").verdict is verdict


def test_a_folder_that_others_can_read_is_told_and_closed(home: Home) -> None:
    """Once: the next look finds it closed."""
    assert found(home, last="access")["access"].verdict is Verdict.GOOD
    home.folder.chmod(0o755)
    told = found(home, last="access")["access"]
    assert told.verdict is Verdict.WARNING
    assert f"others could read {home.folder}" in told.words
    assert found(home, last="access")["access"].verdict is Verdict.GOOD
