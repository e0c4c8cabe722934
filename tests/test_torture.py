"""A short torture of the running companion; `python -m tests.torture` is the long one."""

from pathlib import Path

from tests.torture import Torture


def test_what_was_confirmed_outlasts_kills_at_any_moment(tmp_path: Path) -> None:
    """Nothing confirmed is lost, nothing is recorded twice, and each session folds to its summary."""
    torture = Torture(tmp_path / "home", seed=1)
    torture.run(kills=3)
    found = torture.check()
    assert found.pop("confirmed") > 0
    del found["unconfirmed"], found["sessions"]
    assert found == {"lost": 0, "more than asked for": 0, "gaps": 0, "wrong summaries": 0}
