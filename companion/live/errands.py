"""What was asked for in a lesson and is not done yet: how long it waits, and whether that was told."""

from collections.abc import Callable
from typing import TypeVar

from companion.clock import Clock

T = TypeVar("T")

LATE_S = 1.0
"""What was asked for so long ago and is not done yet waits for a slow disk, and is told to."""


class Errand:
    """Something that was asked for."""

    def __init__(self, asked_s: float) -> None:
        self.asked_s = asked_s
        """When, on the steady clock."""
        self.told = False
        """Whether a tone has told that it waits."""


class Errands:
    """Every errand that is not done yet. Any thread may ask; one does them, each after the other."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._asked: list[Errand] = []
        self._doing: Errand | None = None

    def ask(self) -> Errand:
        """Take note of an errand that was asked for just now."""
        errand = Errand(self._clock.steady_s())
        self._asked.append(errand)
        return errand

    def do(self, errand: Errand, job: Callable[[], T]) -> T:
        """Do `errand`, which is `job`."""
        self._doing = errand
        try:
            return job()
        finally:
            self._doing = None

    def end(self, errand: Errand) -> None:
        """Wait for `errand` no longer: it is done, or was given up."""
        self._asked.remove(errand)

    @property
    def late(self) -> int:
        """How many errands are not done yet, if one of them should be."""
        asked = list(self._asked)
        return len(asked) if asked and self._clock.steady_s() - asked[0].asked_s > LATE_S else 0

    def tell(self) -> bool:
        """Return whether there are errands to be told that they wait; from now on all of these were."""
        untold = [errand for errand in list(self._asked) if not errand.told] if self.late else []
        for errand in untold:
            errand.told = True
        return bool(untold)

    @property
    def told(self) -> bool:
        """Whether it was told already that the errand waits that is being done."""
        return self._doing is not None and self._doing.told
