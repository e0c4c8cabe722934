"""Changes to the settings file by the program."""

from pathlib import Path

import pytest
import tomlkit

from companion.errors import CompanionError
from companion.settings.file import append_table, edit
from tests.systems import is_private

SETTINGS = """# Mine, and I like it so.
[[plans]]
name = "garden"   # the long bed
phases = [{ name = "arrival", minutes = 5 }]
"""
F9 = {"press": "f9", "does": "praise"}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Give the test a settings file."""
    path = tmp_path / "companion.toml"
    path.write_text(SETTINGS)
    return path


@pytest.mark.parametrize("before", ["", "keys = []\n", 'keys = [{ press = "f8", does = "undo" }]\n'])
def test_a_table_is_added_and_comments_stay(path: Path, before: str) -> None:
    """A table joins the others in the form they have, and every comment and blank of the teacher stays."""
    path.write_text(before + SETTINGS)
    settings = edit(path, lambda document: append_table(document, "keys", F9))
    assert [key.press for key in settings.keys][-1] == "f9"
    assert SETTINGS.rstrip() in path.read_text()
    again = edit(path, lambda document: append_table(document, "keys", {"press": "f7", "does": "undo"}))
    assert len(again.keys) == len(settings.keys) + 1
    assert is_private(path)


def test_an_invalid_change_leaves_the_file_alone(path: Path) -> None:
    """What would make the settings invalid is refused, and the file is as it was."""
    with pytest.raises(CompanionError, match="plain character"):
        edit(path, lambda document: append_table(document, "keys", {**F9, "press": "p"}))
    assert path.read_text() == SETTINGS
    assert list(path.parent.iterdir()) == [path]


def test_a_broken_file_is_not_touched(path: Path) -> None:
    """A file that is not valid now is named and left to its owner."""
    path.write_text("plans = [")
    with pytest.raises(CompanionError, match="not valid TOML"):
        edit(path, lambda document: append_table(document, "keys", F9))
    assert path.read_text() == "plans = ["


def test_a_disk_that_refuses_is_reported(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the file can't be put in place, the old one is whole and nothing is left beside it."""

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", refuse)
    with pytest.raises(CompanionError, match="No space left") as refused:
        edit(path, lambda document: append_table(document, "keys", F9))
    assert refused.value.safe
    assert path.read_text() == SETTINGS
    assert list(path.parent.iterdir()) == [path]


def test_a_change_may_be_anything(path: Path) -> None:
    """Whatever a form on a page changes goes the same way."""

    def rename(document: tomlkit.TOMLDocument) -> None:
        document["school"] = {"name": "Alder Lane School"}

    assert edit(path, rename).school.name == "Alder Lane School"


def test_bindings_that_can_not_be_used_are_taken_out_one_by_one(tmp_path: Path) -> None:
    """The file is changed though another is left, which is told; comments stay."""
    path = tmp_path / "companion.toml"
    wrong = '[[keys]]\npress = "p"\ndoes = "praise"\n[[keys]]\npress = "q"\ndoes = "undo"\n'
    path.write_text(f"# Mine.\n{SETTINGS}{wrong}", encoding="utf-8-sig")

    def first_out(document: tomlkit.TOMLDocument) -> None:
        del document["keys"][0]
        if not document["keys"]:
            del document["keys"]

    with pytest.raises(CompanionError, match="plain character"):
        edit(path, first_out)
    assert '"p"' in path.read_text()
    with pytest.raises(CompanionError, match="'q' is a plain character"):
        edit(path, first_out, mending="keys")
    assert '"p"' not in path.read_text()
    assert edit(path, first_out, mending="keys").keys == ()
    assert path.read_text() == f"# Mine.\n{SETTINGS}"
