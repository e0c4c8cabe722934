"""`companion bench` on small folders of synthetic speech, and on the sample sessions."""

import json
from pathlib import Path

import pytest
import soundfile

from companion.bench.samples import from_samples
from companion.listening.microphone.files import duration_s
from companion.listening.sound import SAMPLE_RATE
from companion.samples.sample import bundled_sample, sample_names
from tests.commands.conftest import Run
from tests.listening import korean, speakers

VOSK = ("--engine", "vosk", "--engine", "vosk grammar alone")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a benchmark folder with one Korean clip."""
    clip = tmp_path / "bench" / "clips" / "마무리" / "one.wav"
    clip.parent.mkdir(parents=True)
    soundfile.write(clip, korean.spoken(f"{korean.CUE} 마무리", korean.VOICES[0]), SAMPLE_RATE)
    (tmp_path / "bench" / "bench.toml").write_text(f'cue = "{korean.CUE}"\nlanguage = "ko"\n', "utf-8")
    return tmp_path / "bench"


def test_vosk_and_its_grammar_alone_are_measured_side_by_side(run: Run, folder: Path) -> None:
    """In one run each has its figures for every condition; a clear clip is found by both."""
    (measured,) = json.loads(run("bench", folder, *VOSK, "--near-only", "--json").stdout)
    assert [engine["engine"] for engine in measured["engines"]] == ["vosk", "vosk grammar alone"]
    for engine in measured["engines"]:
        clean = engine["conditions"][0]
        assert (clean["condition"], clean["clips"], clean["missed"]["as set"]["count"]) == ("clean", 1, 0)
        assert engine["processor_share"] > 0


def test_engine_that_cannot_hear_the_folder_is_left_out_with_the_reason(run: Run, folder: Path) -> None:
    """Engines for English, and Vosk without a model of the language, each say why they are not measured."""
    said = run("bench", folder, "--engine", "phonemes", "--engine", "bare embedding", code=2).stderr
    assert "phonemes is left out. The engine “phonemes” understands English only." in said
    assert "bare embedding is left out. It can't put a cue and a phrase together." in said
    assert "No engine can hear these recordings." in said
    clip = folder / "clips" / "마무리" / "one.wav"
    soundfile.write(clip, speakers.say("cleanup"), SAMPLE_RATE)
    (folder / "bench.toml").unlink()
    assert "no speech model for the language “en”" in run("bench", folder, *VOSK, code=2).stderr


def test_sample_sessions_are_clips_and_talk() -> None:
    """Every phrase that was said in the samples is a clip of its own; all the rest is talk."""
    samples = [bundled_sample(name) for name in sample_names()]
    labelled = from_samples()
    assert labelled.vocabulary.cue == "velvet compass"
    assert set(labelled.clips) <= set(labelled.vocabulary.phrases)
    clips = [clip.sound for found in labelled.clips.values() for clip in found]
    assert len(clips) == sum(len(sample.truth) for sample in samples)
    heard_s = sum(len(sound) for sound in [*labelled.talk, *clips])
    assert heard_s / SAMPLE_RATE == pytest.approx(sum(duration_s(one.sound) for one in samples), rel=0.1)
