"""What was confirmed outlasts kills at any moment, faults of the disk and a clock that jumps."""

from pathlib import Path

import pytest

from tests.torture.ledger import MUST_BE_NONE
from tests.torture.place import Place
from tests.torture.torture import Torture

KILLS = 100
"""Lives of each of two homes; thousands are a run of `python -m tests.torture`."""


@pytest.mark.parametrize("seed", [1, 2])
def test_what_was_confirmed_outlasts_kills_at_any_moment(tmp_path: Path, seed: int) -> None:
    """By every way in: nothing confirmed is lost, nothing is recorded twice, and the log is sound."""
    place = Place(tmp_path / "place", tmp_path / "beside")
    place.folder.mkdir()
    place.beside.mkdir()
    torture = Torture(place, seed=seed)
    found = torture.run(kills=KILLS)
    bad = {what: found[what] for what in MUST_BE_NONE if found[what]}
    assert not bad, torture.notes
    ways = ("command line", "key", "page", "voice")
    assert all(found[f"confirmed by {way}"] for way in ways), found
    assert found["faults"] > KILLS / 10
    assert found["kills in a write"] > KILLS / 10
    assert all(found[f"kills in {stage}"] for stage in ("a start", "a step", "a close", "an end")), found
    assert found["children killed"] > 0
