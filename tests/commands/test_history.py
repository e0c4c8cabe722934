"""`companion history` as it is called."""

import json
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from companion.bench.school_years import ZONE, fill
from companion.cli import cli


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a home with five weeks of lessons."""
    home = tmp_path_factory.mktemp("home")
    fill(home / "sessions.db", 160, seed=3, ends=datetime.now(ZONE))
    return home


def run(home: Path, *arguments: str) -> Result:
    """Run the command on `home`."""
    return CliRunner().invoke(cli, ["--home", str(home), "history", *arguments])


def test_weeks_of_all_class_groups_are_told_in_sentences(home: Path) -> None:
    """Ratio, phases in the order of the lesson, and what to teach again."""
    done = run(home, "--all")
    assert done.exit_code == 0, done.output
    lines = done.output.splitlines()
    assert lines[0].startswith("all class groups, 160 lessons since ")
    assert [line.split()[1] for line in lines if " got a mark in " in line][:2] == ["arrival", "opening"]
    assert "Routines to teach again" in lines


def test_json_has_the_same_for_one_class_group(home: Path) -> None:
    """With numbers, intervals and doubts."""
    found = json.loads(run(home, "1-Hazel", "--json").output)
    assert found["class_group"] == "1-Hazel"
    assert found["lessons"] == 4
    assert all(one["class_group"] == "1-Hazel" and 0 <= one["doubt"] <= 1 for one in found["teach_again"])


def test_a_span_of_days_is_looked_at(home: Path) -> None:
    """From and to are days that belong to the span."""
    last = datetime.now(ZONE).date() - timedelta(weeks=3)
    some = json.loads(run(home, "--all", "--json", "--from", "2020-01-01", "--to", str(last)).output)
    assert 0 < some["lessons"] < 160
    rest = json.loads(run(home, "--all", "--json", "--since", str(last + timedelta(days=1))).output)
    assert (some["until"], rest["until"]) == (str(last), None)
    assert some["lessons"] + rest["lessons"] == 160


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "Name one class group, or say --all"),
        (("1-Hazel", "--all"), "Name one class group, or say --all"),
        (("9-Nobody",), "The log has no lesson of 9-Nobody"),
        (("--all", "--from", "2026-09-02", "--to", "2026-09-01"), "lies after the last one"),
        (("--all", "--since", "yesterday"), "yesterday"),
    ],
)
def test_what_can_not_be_looked_at_is_told(home: Path, arguments: tuple[str, ...], words: str) -> None:
    """And nothing else is printed in its place."""
    done = run(home, *arguments)
    assert done.exit_code != 0
    assert words in (done.output + str(done.exception))
