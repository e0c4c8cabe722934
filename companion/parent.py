"""Processes of the companion's own that end when the one that started them does, however it ended.

A companion that was killed can end nobody. What it had started would go on until it notices by itself, which
a recogniser that is just loading, or a sound system that hangs, does late or never.
"""

import multiprocessing
import os
import pickle
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.process import BaseProcess
from multiprocessing.reduction import ForkingPickler
from typing import Any

LOOK_S = 0.5


def child(run: Callable[..., object], *args: object) -> BaseProcess:
    """Return a process, not started yet, that calls `run(*args)` and ends soon after this one has ended.

    run, args: what can be pickled, pipes included.
    """
    context = multiprocessing.get_context("spawn")
    return context.Process(target=_run, args=(_Sealed((run, args)),), daemon=True)


def end_with(number: int) -> None:
    """End this process soon after the process `number`, which has started it, has ended."""
    threading.Thread(target=_outlive_not, args=[number], name="parent", daemon=True).start()


class _Sealed:
    """A value that is read where it is asked for: what it needs is imported only then."""

    def __init__(self, value: Any) -> None:  # noqa: ANN401 - whatever can be pickled
        self._value = value

    def __getstate__(self) -> bytes:
        return bytes(ForkingPickler.dumps(self._value))

    def __setstate__(self, pickled: bytes) -> None:
        self._pickled = pickled

    def opened(self) -> Any:  # noqa: ANN401
        return pickle.loads(self._pickled)  # noqa: S301 - from the process that started this one


def _run(sealed: _Sealed) -> None:
    # Before anything is imported: on a busy computer that takes long.
    end_with(os.getppid())
    run, args = sealed.opened()
    run(*args)


def _outlive_not(number: int) -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
    elif sys.platform == "win32":
        import psutil  # noqa: PLC0415 - only there

        with suppress(psutil.NoSuchProcess):
            psutil.Process(number).wait()
    else:
        while os.getppid() == number:
            time.sleep(LOOK_S)
    os._exit(1)
