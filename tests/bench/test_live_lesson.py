"""The benchmark of a lesson, in its shortest form."""

import json

from click.testing import CliRunner

from companion.commands.bench_live import bench_live


def test_a_short_benchmark_gives_every_figure() -> None:
    """Two seconds of sound and one of a quiet room are enough to fill the table's every row."""
    words = ["--seconds", "2", "--silence", "1", "--hours", "0.002", "--json"]
    done = CliRunner().invoke(bench_live, words)
    assert done.exit_code == 0
    figures = json.loads(done.stdout)
    assert figures["engine"]
    assert len(figures["keys_s"]) == 200
    assert figures["speech_core"] > 0
    assert figures["memory_after_mb"] > 50
    assert figures["hours_after_mb"] >= 50
