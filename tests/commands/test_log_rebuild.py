"""`companion log rebuild` as it is called."""

from pathlib import Path

from click.testing import CliRunner

from companion.bench.school_years import fill
from companion.cli import cli
from companion.log.store import open_log


def test_history_is_summed_up_anew_and_what_was_wrong_is_said(tmp_path: Path) -> None:
    """Once more, and there is nothing to put right."""
    fill(tmp_path / "sessions.db", 2)
    with open_log(tmp_path / "sessions.db") as log, log.writing() as db:
        db.execute("UPDATE summary SET praise = praise + 1")
    said = [CliRunner().invoke(cli, ["--home", str(tmp_path), "log", "rebuild"]) for _ in range(2)]
    assert [done.exit_code for done in said] == [0, 0]
    assert "put right (summary)" in said[0].output
    assert "nothing had been summed up wrongly" in said[1].output
