"""Telling a whole model's folder from anything else."""

from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.models.layout import check_layout, find_root, require_dynamic
from tests.models.archives import FILES, FST, write_model


def test_whole_model_passes(tmp_path: Path) -> None:
    """A folder with every file of the right kind passes as a model with a dynamic graph."""
    assert check_layout(write_model(tmp_path)).dynamic_graph


@pytest.mark.parametrize("name", sorted(FILES))
def test_missing_file_is_named(tmp_path: Path, name: str) -> None:
    """Any file that is missing makes the model broken, and is named."""
    write_model(tmp_path, {other: content for other, content in FILES.items() if other != name})
    with pytest.raises(CompanionError, match=name):
        check_layout(tmp_path)


@pytest.mark.parametrize("content", [b"", b"version https://git-lfs"])
def test_file_of_another_kind_is_named(tmp_path: Path, content: bytes) -> None:
    """An empty graph, or a text in its place, is named."""
    write_model(tmp_path, FILES | {"graph/Gr.fst": content})
    with pytest.raises(CompanionError, match=r"Gr\.fst"):
        check_layout(tmp_path)


def test_static_graph_is_refused_with_a_reason(tmp_path: Path) -> None:
    """A model with one fixed graph is whole, but is refused because it can't take phrases."""
    files = {name: content for name, content in FILES.items() if not name.startswith("graph/")}
    files |= {
        "graph/HCLG.fst": FST,
        "graph/words.txt": b"a 1\n",
        "graph/phones/word_boundary.int": b"1 nonword\n",
    }
    layout = check_layout(write_model(tmp_path, files))
    with pytest.raises(CompanionError, match="your phrases only"):
        require_dynamic(layout)


def test_model_inside_one_folder_is_found(tmp_path: Path) -> None:
    """The one folder inside that holds the model is taken, as archives have it."""
    write_model(tmp_path / "a-model")
    assert find_root(tmp_path) == tmp_path / "a-model"
