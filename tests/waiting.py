"""Waits for what is to happen in another thread or process."""

import time
from collections.abc import Callable


def until(happens: Callable[[], bool], limit_s: float = 30.0) -> bool:
    """Wait for something to happen; the limit only ends a test that has failed."""
    end_s = time.monotonic() + limit_s
    while not happens():
        if time.monotonic() > end_s:
            return False
        time.sleep(0.02)
    return True
