"""Loading the real Korean model, and models that are damaged in ways that only the native code notices."""

from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.listening.vosk.model import load_model
from tests.listening.korean import korean_model
from tests.models.archives import FILES, FST, write_model


def test_model_is_loaded_once() -> None:
    """A second request gives the model that is in memory already."""
    assert load_model(korean_model().path) is korean_model()


def test_model_knows_its_words_only() -> None:
    """The vocabulary is asked, word by word."""
    assert korean_model().knows("정원")
    assert not korean_model().knows("velvet")


def test_truncated_graph_is_an_error_and_no_crash(tmp_path: Path) -> None:
    """A real model with half a graph passes every outer check, ends the child and not this process."""
    whole = korean_model().path
    for file in (path for path in whole.rglob("*") if path.is_file()):
        copy = tmp_path / "model" / file.relative_to(whole)
        copy.parent.mkdir(parents=True, exist_ok=True)
        copy.symlink_to(file)
    (tmp_path / "model" / "graph" / "Gr.fst").unlink()
    (tmp_path / "model" / "graph" / "Gr.fst").write_bytes(
        (whole / "graph" / "Gr.fst").read_bytes()[:1_000_000]
    )
    with pytest.raises(CompanionError, match="could not be loaded"):
        load_model(tmp_path / "model", tmp_path / "proofs.json")
    assert not (tmp_path / "proofs.json").exists()


def test_static_graph_is_refused_with_a_reason(tmp_path: Path) -> None:
    """A model with a fixed graph is refused before it is loaded, with the reason."""
    files = {name: content for name, content in FILES.items() if not name.startswith("graph/")}
    files |= {
        "graph/HCLG.fst": FST,
        "graph/words.txt": b"a 1\n",
        "graph/phones/word_boundary.int": b"1 nonword\n",
    }
    with pytest.raises(CompanionError, match="fixed word graph"):
        load_model(write_model(tmp_path, files))
