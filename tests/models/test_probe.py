"""Loading models, good and broken, in a process of their own."""

from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.models.places import model_for
from companion.models.probe import probe_model
from tests.models.archives import FILES, write_model


def test_real_model_is_measured(tmp_path: Path) -> None:
    """A real model is loaded in a child, which reports a time and the memory that it took."""
    korean = model_for("ko", tmp_path)
    assert korean is not None
    figures = probe_model(korean.path)
    assert figures.load_s > 0
    assert figures.resident_mb > 50


def test_model_that_crashes_the_native_code_is_only_an_error(tmp_path: Path) -> None:
    """Files that pass every outer check and end the native code end the child, never this process."""
    with pytest.raises(CompanionError, match="could not be loaded"):
        probe_model(write_model(tmp_path))


def test_model_that_is_not_whole_is_not_loaded(tmp_path: Path) -> None:
    """A model with a file missing is refused before any native code sees it."""
    write_model(tmp_path, {name: content for name, content in FILES.items() if name != "am/final.mdl"})
    with pytest.raises(CompanionError, match="not whole"):
        probe_model(tmp_path)
