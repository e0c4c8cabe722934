"""`companion init`."""

import stat
from pathlib import Path

import pytest

from companion.settings.phrase_packs import LANGUAGES
from companion.settings.settings import load_settings
from tests.commands.conftest import Run
from tests.rig_sound import SoundRig

SETTINGS_ARE_IN = {"en": "Your settings are in", "es": "Sus ajustes están en", "ko": "설정 파일:"}


def test_init_yes_writes_the_starter_values_privately(run: Run, tmp_path: Path) -> None:
    """Without a question, with the caution, and readable by nobody else."""
    done = run("init", "--yes")
    path = tmp_path / "home" / "companion.toml"
    assert str(path) in done.stdout
    assert "law" in done.stdout
    assert load_settings(path).school.name == "Alder Lane School"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_init_asks_a_few_plain_questions_and_keeps_the_comments(run: Run, tmp_path: Path) -> None:
    """The answers stand in the file; Enter keeps what is there."""
    run("init", said="Birch Hill School\n\n3\ncobalt pelican\n")
    path = tmp_path / "home" / "companion.toml"
    settings = load_settings(path)
    assert settings.school.name == "Birch Hill School"
    assert settings.school.tables == ("one", "two", "three")
    assert settings.listening.cue == "cobalt pelican"
    assert "# Phrases: what is said after the cue" in path.read_text(encoding="utf-8")


def test_settings_that_are_there_are_not_written_over(run: Run, tmp_path: Path) -> None:
    """Only --force starts anew."""
    run("init", "--yes")
    path = tmp_path / "home" / "companion.toml"
    path.write_text("# mine\n", encoding="utf-8")
    assert "--force" in run("init", "--yes", code=2).stderr
    assert path.read_text(encoding="utf-8") == "# mine\n"
    run("init", "--yes", "--force")
    assert load_settings(path)


@pytest.mark.parametrize("language", LANGUAGES)
def test_each_language_has_starter_settings(run: Run, tmp_path: Path, language: str) -> None:
    """Cue, phrases and phases are in that language, and so is what the program says from then on."""
    told = run("init", "--yes", "--language", language).stdout
    settings = load_settings(tmp_path / "home" / "companion.toml")
    assert settings.listening.language == language
    assert settings.commands
    assert (settings.words.language or "en") == language
    assert SETTINGS_ARE_IN[language] in told
    assert ("companion models list" in told) == (language == "es")


def test_what_no_engine_can_hear_is_told_in_one_sentence_each(run: Run, sound_rig: SoundRig) -> None:
    """Where the speech model is missing, `open` says that, and promises no voice meanwhile."""
    assert sound_rig.server.poll() is None
    run("init", "--yes", "--language", "es")
    run("start")
    try:
        told = run("open", "4-Hazel").stdout
        assert "En este equipo no hay modelo de voz para el idioma “es”." in told
        assert "companion models list" in told
        assert ".." not in told
        assert "teclas" not in told
    finally:
        run("stop")
