"""One exercise at a time: begun by a button, watched by a page, over soon after nobody looks any more."""

import threading
from collections.abc import Callable
from contextlib import suppress
from typing import Protocol

from companion.errors import CompanionError

UNWATCHED_S = 6.0
"""So long after the last page has gone, the microphone closes: nobody is listened to unseen."""


class Exercise(Protocol):
    """Something that is being tried. Each method may be called from any thread and returns at once."""

    step: str
    """The step of the set-up that it belongs to."""

    @property
    def stamp(self) -> str:
        """What changes whenever its page has something new to show."""
        ...

    @property
    def level_dbfs(self) -> float | None:
        """Loudness at the microphone; None where none is open."""
        ...

    def rest(self) -> None:
        """Close the microphone and the keys; what was done so far stays to be seen."""
        ...


class Exercises:
    """Holds the exercise that goes on, and those of other steps that have come to rest. For any thread."""

    def __init__(self, unwatched_s: float = UNWATCHED_S) -> None:
        self._unwatched_s = unwatched_s
        self._lock = threading.Lock()
        self._kept: dict[str, Exercise] = {}
        self._current: Exercise | None = None
        self._watchers = 0
        self._timer: threading.Timer | None = None

    def begin(self, make: Callable[[], Exercise]) -> None:
        """Begin an exercise; the one that goes on comes to rest first."""
        self._rest_now()
        with self._lock:
            self._current = made = make()
            self._kept[made.step] = made
            self._wait_for_watchers()

    def of(self, step: str) -> Exercise | None:
        """Return the exercise of `step`, if it goes on or was there before."""
        return self._kept.get(step)

    def end(self, step: str = "") -> None:
        """Let the exercise of `step`, or every one, come to rest and forget it."""
        for key in [step] if step else list(self._kept):
            with self._lock:
                exercise = self._kept.pop(key, None)
            if exercise is not None:
                exercise.rest()

    def _rest_now(self) -> None:
        with self._lock:
            self._stop_timer()
            current, self._current = self._current, None
        if current is not None:
            current.rest()

    def watch(self) -> Callable[[], None]:
        """Take note that a page looks on; return what ends that."""
        with self._lock:
            self._watchers += 1
            self._stop_timer()
        return self._leave

    def _leave(self) -> None:
        with self._lock:
            self._watchers -= 1
            self._wait_for_watchers()

    def _wait_for_watchers(self) -> None:
        if self._watchers == 0 and self._current is not None:
            self._stop_timer()
            self._timer = threading.Timer(self._unwatched_s, self._rest)
            self._timer.daemon = True
            self._timer.start()

    def _stop_timer(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def _rest(self) -> None:
        with self._lock:
            current = self._current if self._watchers == 0 else None
        if current is not None:
            with suppress(CompanionError):
                current.rest()
