"""`companion replay` on real sound, good and bad."""

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile

from companion.paths import bundled
from companion.samples.sample import bundled_sample
from tests.commands.conftest import Run

SAMPLE = bundled("sample_sessions") / "calm-garden"
UNTIL_S = 64


@pytest.fixture(scope="module")
def beginning(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the first minute of a sample session as a WAV file."""
    sound, rate = soundfile.read(bundled_sample("calm-garden").sound, dtype="float32", always_2d=False)
    path = tmp_path_factory.mktemp("sound") / "beginning.wav"
    soundfile.write(path, sound[: UNTIL_S * rate], rate)
    return path


def test_a_recording_becomes_a_session_in_the_log(run: Run, beginning: Path) -> None:
    """One JSON object with phases, marks, near misses, count and recognition; marks agree with the truth."""
    found = json.loads(run("replay", beginning, "--plan", SAMPLE / "plan.toml", "--json").stdout)
    assert list(found)[:9] == [
        "session",
        "class_group",
        "phases",
        "marks",
        "near_misses",
        "praise",
        "reminder",
        "margin",
        "recognition",
    ]
    assert found["class_group"] == "4-Hazel"
    assert found["phases"][0]["name"] == "arrival"
    assert found["phases"][-1]["ended_s"] == pytest.approx(UNTIL_S, abs=0.2)
    truth = [
        spoken
        for spoken in bundled_sample("calm-garden").truth
        if spoken.end_ms < (UNTIL_S - 1) * 1000 and spoken.kind in ("praise", "reminder")
    ]
    heard = [(mark["kind"], mark["at_s"]) for mark in found["marks"]]
    near = [
        any(kind == spoken.kind and abs(at_s - spoken.begin_ms / 1000) < 1.5 for kind, at_s in heard)
        for spoken in truth
    ]
    assert sum(near) * 2 > len(truth), (heard, truth)
    assert len(heard) <= len(truth) + 1
    again = json.loads(run("sessions", "--json").stdout)
    assert (again["session"], again["closed"], again["margin"]) == (found["session"], True, found["margin"])


def test_sound_of_any_rate_width_and_channel_count_is_taken(
    run: Run, beginning: Path, tmp_path: Path
) -> None:
    """96 kHz stereo, and 8 bits at 8 kHz; --class-group names what the plan does not."""
    sound, rate = soundfile.read(beginning, dtype="float32")
    short = sound[: 4 * rate]
    wide, narrow = tmp_path / "wide.flac", tmp_path / "narrow.wav"
    soundfile.write(wide, np.repeat(np.repeat(short, 96_000 // rate), 2).reshape(-1, 2), 96_000)
    soundfile.write(narrow, short[:: rate // 8_000], 8_000, subtype="PCM_U8")
    for path in (wide, narrow):
        found = json.loads(
            run("replay", path, "--plan", SAMPLE / "plan.toml", "--class-group", "2-Birch", "--json").stdout
        )
        assert found["class_group"] == "2-Birch"
        assert found["phases"][-1]["ended_s"] == pytest.approx(4.0, abs=0.2)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"leeks, carrots, potatoes\n" * 99, "not a sound file"),
        (b"RIFF\x24\0\0\0WAVEfmt ", "sound"),
    ],
)
def test_a_file_that_holds_no_sound_is_told_and_opens_no_session(
    run: Run, tmp_path: Path, content: bytes, said: str
) -> None:
    """Empty, not sound at all, and a header that breaks off."""
    path = tmp_path / "bad.wav"
    path.write_bytes(content)
    assert said in run("replay", path, "--plan", SAMPLE / "plan.toml", code=2).stderr
    assert "no session" in run("sessions").stdout


def test_a_recording_that_breaks_off_gives_what_it_holds(run: Run, beginning: Path, tmp_path: Path) -> None:
    """With a sentence that says so."""
    path = tmp_path / "broken.wav"
    path.write_bytes(beginning.read_bytes()[:200_000])
    done = run("replay", path, "--plan", SAMPLE / "plan.toml", "--json")
    assert "breaks off" in done.stderr
    assert json.loads(done.stdout)["phases"][-1]["ended_s"] > 1


def test_a_recording_without_a_plan_and_a_folder_without_sound_are_told(
    run: Run, beginning: Path, tmp_path: Path
) -> None:
    """Each with what to do."""
    assert "--plan" in run("replay", beginning, code=2).stderr
    (tmp_path / "empty").mkdir()
    assert "no sound" in run("replay", tmp_path / "empty", code=2).stderr
    assert "no settings file" in run("replay", beginning, "--plan", tmp_path / "no.toml", code=2).stderr
    bad = tmp_path / "bad.toml"
    bad.write_text(
        (SAMPLE / "plan.toml").read_text(encoding="utf-8").replace("minutes = 1", "minutes = 0", 1)
    )
    assert "plans[1].phases[" in run("replay", beginning, "--plan", bad, code=2).stderr


def test_an_hour_of_silence_has_no_marks(run: Run, tmp_path: Path) -> None:
    """And is over quickly, since the gate stays closed."""
    path = tmp_path / "silence.flac"
    soundfile.write(path, np.zeros(3600 * 16_000, np.int16), 16_000)
    found = json.loads(run("replay", path, "--plan", SAMPLE / "plan.toml", "--json").stdout)
    assert (found["marks"], found["near_misses"]) == ([], [])
    assert found["phases"][-1]["ended_s"] == pytest.approx(3600, abs=1)


def test_a_log_that_is_not_one_is_left_alone(run: Run, beginning: Path, tmp_path: Path) -> None:
    """The recording is not lost in it."""
    (tmp_path / "home").mkdir()
    (tmp_path / "home" / "sessions.db").write_text("leeks\n" * 1000)
    assert "not a session log" in run("replay", beginning, "--plan", SAMPLE / "plan.toml", code=2).stderr
    assert (tmp_path / "home" / "sessions.db").read_text() == "leeks\n" * 1000
    shutil.rmtree(tmp_path / "home")
