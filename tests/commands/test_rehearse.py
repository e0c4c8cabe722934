"""`companion rehearse`, from recordings to an engine that knows the voice."""

import stat
from pathlib import Path

import pytest
import soundfile
from click.testing import CliRunner

from companion.commands.rehearse import rehearse
from companion.listening.engines import Voice, choose
from companion.listening.sound import SAMPLE_RATE
from companion.listening.voice.files import FILE
from companion.paths import Home
from companion.settings.settings import load_settings
from tests.commands.conftest import Run
from tests.commands.test_guided_rehearsal import SETTINGS
from tests.listening.memory import packages_while_listening
from tests.listening.speakers import say
from tests.listening.voice.sunk import learn_voice
from tests.watched import Watch


def test_takes_become_a_private_file_that_the_engine_listens_with(watch: Watch, tmp_path: Path) -> None:
    """It says what to expect and the caution; --forget deletes all of it; nothing leaves the computer."""
    home = Home(watch.companion)
    watch.run("init", "--yes")
    (tmp_path / "takes" / "cue").mkdir(parents=True)
    for number, pace in enumerate((0.9, 1.0, 1.1, 1.2)):
        take = say("velvet compass", "flite:rms", pace)
        soundfile.write(tmp_path / "takes" / "cue" / f"{number}.wav", take, SAMPLE_RATE)
    said = watch.run("rehearse", "--takes", tmp_path / "takes")
    assert "of 4 takes, each left out once" in said
    assert "Until your voice is learnt no voice is refused" in said
    assert "law of your place" in said
    assert {stat.S_IMODE(kept.stat().st_mode) for kept in home.voice.iterdir()} == {0o600}
    assert stat.S_IMODE(home.voice.stat().st_mode) == 0o700
    settings = load_settings(home.settings)
    vocabulary = settings.vocabulary(settings.plan())
    assert choose(vocabulary, voice=Voice(features=home.voice)) == "enrolled"
    assert "scipy" not in packages_while_listening("enrolled", home.voice)
    watch.run("rehearse", "--top-up", code=2)
    assert "deleted" in watch.run("rehearse", "--forget")
    assert not home.voice.exists()
    assert choose(vocabulary, voice=Voice(features=home.voice)) == "phonemes"
    assert (watch.left(), watch.strayed()) == ([], [])


def test_too_few_takes_are_told(run: Run, tmp_path: Path) -> None:
    """Two recordings teach nothing that could be trusted, and leave a good voice as it is."""
    run("init", "--yes")
    assert "Nothing from reviews" in run("rehearse", "--top-up", code=2).stderr
    assert "Nothing that was learnt before" in run("rehearse", "--back", code=2).stderr
    home = Home(tmp_path / "home")
    learn_voice(home)
    good = (home.voice / FILE).read_bytes()
    (tmp_path / "takes").mkdir()
    for number in range(2):
        soundfile.write(tmp_path / "takes" / f"{number}.wav", say("velvet compass", "flite:rms"), SAMPLE_RATE)
    refused = run("rehearse", "--takes", tmp_path / "takes", code=2).stderr
    assert "fewest" in refused
    assert "no voice is refused" not in refused
    assert "What was learnt before is as it was" in refused
    assert (home.voice / FILE).read_bytes() == good
    assert [kept.name for kept in home.voice.iterdir()] == [FILE]


def test_with_consent_a_top_up_says_when_there_is_something_to_learn(run: Run, tmp_path: Path) -> None:
    """Whoever has consented is not asked to, but told what is still to be done."""
    run("init", "--yes")
    assert "Set learn_from_reviews" in run("rehearse", "--top-up", code=2).stderr
    settings = Home(tmp_path / "home").settings
    consent = settings.read_text().replace("learn_from_reviews = false", "learn_from_reviews = true")
    settings.write_text(consent)
    refused = run("rehearse", "--top-up", code=2).stderr
    assert "Set learn_from_reviews" not in refused
    assert "settle the count" in refused


def test_a_command_to_go_back_stands_on_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """So that it can be copied, however long the way to the home is."""
    home = Home(tmp_path / "home")
    learn_voice(home)
    (home.voice / "reviewed-1.npz").touch()
    home.settings.write_text(SETTINGS)
    monkeypatch.setattr("companion.commands.rehearse.teach_again", lambda *_: ("Learnt again.",))
    told = CliRunner().invoke(rehearse, ["--top-up"], obj=home, env={"COLUMNS": "40"}).output.splitlines()
    assert told[0] == "Learnt again."
    assert told[1].startswith("Go back")
    assert told[1].endswith("rehearse --back")
