"""`companion export` as it is called."""

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from companion.bench.school_years import fill
from companion.cli import cli
from companion.log.hand_out import read_csv
from companion.log.shapes import SESSIONS


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a home with three lessons."""
    home = tmp_path_factory.mktemp("home")
    fill(home / "sessions.db", 3)
    return home


def run(home: Path, *arguments: str) -> Result:
    """Run the command on `home`."""
    return CliRunner().invoke(cli, ["--home", str(home), "export", *arguments])


def test_lessons_become_tables_with_a_word_of_caution(home: Path, tmp_path: Path) -> None:
    """What was written, and where, is said."""
    done = run(home, str(tmp_path / "out"))
    assert done.exit_code == 0, done.output
    assert "your school's policy" in done.stderr
    assert (
        f"4 tables with their dictionary are in {tmp_path / 'out'} (rows: sessions 3, phases 18"
        in done.stdout
    )
    assert len(list(read_csv(tmp_path / "out" / "sessions.csv", SESSIONS))) == 3


def test_individual_notes_are_a_table_of_their_own(home: Path, tmp_path: Path) -> None:
    """Only by name."""
    assert "individual_notes 0" in run(home, str(tmp_path), "--with-individual-notes").stdout
    assert (tmp_path / "individual_notes.csv").exists()


def test_each_column_is_explained_without_writing(home: Path) -> None:
    """The dictionary names every table."""
    done = run(home, "--dictionary")
    assert done.exit_code == 0
    assert "## marks" in done.stdout
    assert "individual_notes" not in done.stdout


def test_a_folder_has_to_be_named(home: Path) -> None:
    """Nothing is written into a place that was not chosen."""
    done = run(home)
    assert done.exit_code == 2
    assert "Name the folder" in done.output
