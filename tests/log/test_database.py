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


WHILE_ANOTHER_THREAD_IMPORTS = """
import sys, threading
imported = []

def import_numpy():
    import numpy
    imported.append(numpy.__name__)

def at_the_moment(event, words):
    if event == "import" and words[0] == "sqlite_utils":
        other = threading.Thread(target=import_numpy)
        other.start()
        other.join()

sys.addaudithook(at_the_moment)
from companion.log.database import Database
assert imported == ["numpy"]
assert list(Database(memory=True).query("SELECT 1 AS one")) == [{"one": 1}]
"""


def test_a_thread_that_imports_numpy_at_that_moment_gets_it() -> None:
    """It is not hidden from anybody else."""
    done = subprocess.run(
        [sys.executable, "-c", WHILE_ANOTHER_THREAD_IMPORTS],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
