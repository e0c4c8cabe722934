"""What the pages ask of the program around them: to look whether all is well, to end, to forget."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from companion.errors import CompanionError
from companion.language import _, later


class Verdict(StrEnum):
    """How a thing is."""

    GOOD = "good"
    WARNING = "warning"
    """The lesson can be held; something of it is missing."""
    BAD = "bad"
    """The lesson can't be held as the settings want it."""


@dataclass(frozen=True, slots=True)
class Finding:
    """What was found out about one thing."""

    about: str
    verdict: Verdict
    words: str
    remedy: str = ""


class House(Protocol):
    """The program around the pages. Each method may be called from any thread."""

    runs: bool
    """Whether lessons are held from here."""

    def examine(self) -> Iterator[Finding]:
        """Yield a finding for each thing that a lesson needs, as soon as it is known."""
        ...

    def start(self) -> str:
        """Start the companion, if it does not run, and return an address of its pages that lets in once.

        Raises CompanionError if it does not come up.
        """
        ...

    def end(self) -> None:
        """End the companion; a session that is open goes on at the next start."""
        ...

    def starts_with_login(self) -> bool | None:
        """Return whether the companion starts with each log-in; None where that is not known."""
        ...

    def start_with_login(self, *, on: bool) -> None:
        """Let it start with each log-in, or no longer. Raises CompanionError where that can't be done."""
        ...

    def forget_due(self) -> str:
        """Forget what was kept long enough, and return how much that was, in words."""
        ...

    def forget_child(self, code: str) -> str:
        """Forget a child everywhere, and return how much that was, in words."""
        ...


class NoHouse:
    """Where only the pages are there."""

    runs = False

    def examine(self) -> Iterator[Finding]:
        """Nothing can be looked at from here."""
        yield Finding(
            later("companion"), Verdict.WARNING, _("it does not run"), _("Start it with: companion")
        )

    def start(self) -> str:
        """Nothing can be started from here."""
        raise _cannot()

    def end(self) -> None:
        """Nothing can be ended from here."""
        raise _cannot()

    def starts_with_login(self) -> bool | None:
        """Nobody knows."""
        return None

    def start_with_login(self, *, on: bool) -> None:  # noqa: ARG002 - the protocol's own
        """Nothing can be changed from here."""
        raise _cannot()

    def forget_due(self) -> str:
        """Nothing can be forgotten from here."""
        raise _cannot()

    def forget_child(self, code: str) -> str:  # noqa: ARG002
        """Nothing can be forgotten from here."""
        raise _cannot()


def _cannot() -> CompanionError:
    return CompanionError(
        _("These pages were opened without the companion."), remedy=_("Start it with: companion")
    )
