"""`companion spot`."""

import json
from pathlib import Path

import numpy as np
import soundfile

from tests.commands.conftest import Run
from tests.models.archives import write_model

SOUNDS = Path(__file__).parents[1] / "listening" / "sounds"
CUE = ("--cue", "velvet compass", "--phrase", "praise", "--phrase", "cleanup")


def test_each_candidate_is_a_line_of_json(run: Run) -> None:
    """With --json every candidate is one object on its own line, and nothing else is printed."""
    done = run("spot", SOUNDS / "praise.flac", *CUE, "--json")
    (line,) = done.stdout.splitlines()
    found = json.loads(line)
    assert found["phrase"] == "praise"
    assert found["fired"] is True
    assert found["begin_s"] < found["end_s"] < found["decided_s"]
    assert 0.5 < found["confidence"] <= 1
    assert found["engine"] == "phonemes"
    assert isinstance(found["reasons"], list)


def test_without_json_there_is_a_table(run: Run) -> None:
    """A person gets a table, with the phrase and whether it fired."""
    said = run("spot", SOUNDS / "praise.flac", *CUE).stdout
    assert "praise" in said
    assert "fired" in said


def test_a_studio_recording_in_stereo_is_heard_the_same(run: Run, tmp_path: Path) -> None:
    """96 kHz in two channels holds the same phrase as the file it was made from."""
    sound, _ = soundfile.read(SOUNDS / "praise.flac")
    held = np.interp(np.arange(len(sound) * 6) / 6, np.arange(len(sound)), sound)
    soundfile.write(tmp_path / "studio.wav", np.stack((held, held), axis=1), 96_000, subtype="PCM_24")
    done = run("spot", tmp_path / "studio.wav", *CUE, "--json")
    assert [json.loads(line)["phrase"] for line in done.stdout.splitlines()] == ["praise"]


def test_nothing_heard_is_said(run: Run, tmp_path: Path) -> None:
    """Silence gives no JSON and a plain sentence."""
    soundfile.write(tmp_path / "silence.wav", np.zeros(32_000), 16_000)
    assert run("spot", tmp_path / "silence.wav", *CUE, "--json").stdout == ""
    assert "Nothing" in run("spot", tmp_path / "silence.wav", *CUE).stdout


def test_bad_sound_is_a_sentence_and_an_exit_code(run: Run, tmp_path: Path) -> None:
    """A missing file, an empty one and one that is no sound end with a sentence that names them."""
    (tmp_path / "empty.wav").touch()
    (tmp_path / "notes.wav").write_text("lesson notes\n" * 50)
    for name in ("missing.wav", "empty.wav", "notes.wav"):
        assert name in run("spot", tmp_path / name, *CUE, code=2).stderr


def test_a_truncated_file_is_used_and_told(run: Run, tmp_path: Path) -> None:
    """A recording that breaks off after the phrase still gives it, with a warning."""
    sound, rate = soundfile.read(SOUNDS / "praise.flac", dtype="int16")
    path = tmp_path / "broken.wav"
    soundfile.write(path, np.concatenate((sound, np.zeros(32_000, np.int16))), rate)
    path.write_bytes(path.read_bytes()[:-20_000])
    done = run("spot", path, *CUE, "--json")
    assert json.loads(done.stdout)["phrase"] == "praise"
    assert "breaks off" in done.stderr


def test_a_word_that_nobody_can_say_is_named(run: Run) -> None:
    """A phrase that could never be heard is refused, never passed over."""
    said = run("spot", SOUNDS / "praise.flac", "--phrase", "日本", code=2).stderr
    assert "日本" in said


def test_speech_models_are_those_of_the_home_that_was_named(run: Run, tmp_path: Path) -> None:
    """With --home its models are used; one that only looks like a model is told and crashes nothing."""
    model = write_model(tmp_path / "other" / "models" / "vosk-model-small-sw-0.1")
    heard = (
        "spot",
        SOUNDS / "praise.flac",
        "--language",
        "sw",
        "--engine",
        "vosk",
        "--phrase",
        "usafi",
    )
    assert "no speech model" in run(*heard, code=2).stderr
    assert str(model) in run("--home", tmp_path / "other", *heard, code=2).stderr.replace("\n", "")
