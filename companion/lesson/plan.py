"""The plan of a lesson: its phases in their order, each with planned minutes and routines."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from companion.language import later


class Advance(StrEnum):
    """What may move the lesson on into a phase, beside a key and the page, which always may."""

    PHRASE = later("phrase")
    CLOCK = later("clock")


@dataclass(frozen=True, slots=True)
class Phase:
    """A named stretch of the plan."""

    name: str
    minutes: float
    routines: tuple[str, ...] = ()
    """What the class was taught to do here; what a mark can be for."""
    advance: tuple[Advance, ...] = (Advance.PHRASE,)
    """What moves the lesson on from this phase to the next one."""


@dataclass(frozen=True, slots=True)
class Plan:
    """The ordered phases of a lesson. Names are unique; there is at least one phase."""

    name: str
    phases: tuple[Phase, ...]

    def __iter__(self) -> Iterator[Phase]:
        return iter(self.phases)

    def phase(self, name: str) -> Phase | None:
        """Return the phase called `name`, or None if the plan has none of that name."""
        return next((phase for phase in self.phases if phase.name == name), None)

    def after(self, name: str) -> Phase | None:
        """Return the phase that follows `name`, or None after the last one and for an unknown name."""
        following = iter(self.phases)
        for phase in following:
            if phase.name == name:
                return next(following, None)
        return None

    @property
    def routines(self) -> frozenset[str]:
        """What the class was taught to do in any of its phases."""
        return frozenset(routine for phase in self.phases for routine in phase.routines)

    @property
    def minutes(self) -> float:
        """Planned minutes of the whole lesson."""
        return sum(phase.minutes for phase in self.phases)
