"""`companion rehearse`, from recordings to an engine that knows the voice."""

import stat
from pathlib import Path

import soundfile

from companion.listening.engines import Voice, choose
from companion.listening.sound import SAMPLE_RATE
from companion.listening.voice.files import FILE
from companion.paths import Home
from companion.settings.settings import load_settings
from tests.commands.conftest import Run
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
    assert "fewest" in run("rehearse", "--takes", tmp_path / "takes", code=2).stderr
    assert (home.voice / FILE).read_bytes() == good
    assert [kept.name for kept in home.voice.iterdir()] == [FILE]
