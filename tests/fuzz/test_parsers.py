"""No parser answers what it is given by a traceback, an exit or growth; a few cases of each here.

Many more, for a night: python -m tests.fuzz --cases 100000
"""

from pathlib import Path

import pytest

from tests.fuzz.feed import feed
from tests.fuzz.parsers import PARSERS

CASES = 60


@pytest.mark.parametrize("name", PARSERS)
def test_whatever_comes_is_taken_or_refused_in_a_sentence(name: str, tmp_path: Path) -> None:
    """The only error is the program's own; the number of cases is told."""
    told = feed(name, CASES, tmp_path)
    print(told)
    assert told.cases >= CASES // PARSERS[name].costs // 2
