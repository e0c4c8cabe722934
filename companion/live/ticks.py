"""The companion's own clock: twice a second it does what the time asks for, and notices when it could not."""

import logging
import threading
from collections.abc import Callable

from companion.clock import Clock

log = logging.getLogger(__name__)

TICK_S = 0.5
STOOD_STILL_S = 3.0
"""A tick so much too late means that the computer, or the whole program, stood still meanwhile."""


class Ticks:
    """Calls `tick` from a thread of its own, and `stood_still(from_s, to_s)` after the computer did.

    Neither may wait for anything: who waits for a slow disk stands still too.
    """

    def __init__(
        self, clock: Clock, tick: Callable[[], None], stood_still: Callable[[float, float], None]
    ) -> None:
        self._clock = clock
        self._tick = tick
        self._stood_still = stood_still
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, name="ticks", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """End."""
        self._ended.set()
        self._thread.join(10 * TICK_S)

    def _run(self) -> None:
        now_s = self._clock.steady_s()
        while not self._ended.wait(TICK_S):
            before_s, now_s = now_s, self._clock.steady_s()
            try:
                if now_s - before_s > TICK_S + STOOD_STILL_S:
                    self._stood_still(before_s, now_s)
                self._tick()
            except Exception:
                log.exception("what the time asks for could not be done")
