"""Which recordings are for reporting only: scripts that learn or fit ask here, and get none of them.

`kept_apart.sha256` lists their checksums, with what each is; `companion/listening/sources.md` says why.
"""

import hashlib
from collections.abc import Iterable
from functools import cache
from pathlib import Path

LIST = Path(__file__).with_suffix(".sha256")


def learnable(paths: Iterable[Path]) -> list[Path]:
    """Return those of the files that may be learnt from or fitted on, in their order."""
    return [path for path in paths if checksum(path) not in checksums()]


@cache
def checksums() -> frozenset[str]:
    """Return the checksums of what is kept apart."""
    lines = LIST.read_text("utf-8").splitlines()
    return frozenset(line.split()[0] for line in lines if line and not line.startswith("#"))


def checksum(path: Path) -> str:
    """Return the SHA-256 of a file."""
    return hashlib.sha256(path.read_bytes()).hexdigest()
