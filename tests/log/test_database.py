"""sqlite-utils without numpy."""

import subprocess
import sys

PROGRAM = """
import sys
from companion.log.database import Database
assert "numpy" not in sys.modules
import numpy
db = Database(memory=True)
db.table("mark").insert({"id": "m1", "at_ms": 1})
assert list(db.table("mark").rows) == [{"id": "m1", "at_ms": 1}]
"""


def test_numpy_comes_where_it_is_asked_for_and_not_with_the_log() -> None:
    """Whoever needs it later imports it as if nothing had been."""
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], capture_output=True, text=True, timeout=120, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
