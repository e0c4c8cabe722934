"""`companion bench-weeks` as it is called."""

from click.testing import CliRunner

from companion.cli import cli


def test_the_table_has_a_row_a_truth_and_length_beside_the_rule_of_thumb() -> None:
    """Findings for 4, 6, 8 and 12 weeks, and what is said to have helped."""
    done = CliRunner().invoke(cli, ["bench-weeks", "--terms", "1", "--seed", "2"])
    assert done.exit_code == 0, done.output
    lines = done.output.splitlines()
    assert "rule of thumb" in lines[0]
    assert sum(line.startswith("two kinds") for line in lines) == 6
