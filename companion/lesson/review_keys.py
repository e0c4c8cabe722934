"""The keys of the review: one meaning each, on every card, on the page and in the terminal."""

from enum import StrEnum

from companion.language import later


class ReviewKey(StrEnum):
    """A key, and what it does to the entry that is looked at."""

    KEEP = "k"
    """It stays as it stands, and on: a mark is kept, a near miss was nothing."""
    DROP = "d"
    """It does not count: a mark is dropped, a near miss was nothing."""
    KIND = "c"
    """It was the other: praise becomes reminder, reminder praise; a near miss was truly said."""
    REMINDER = "r"
    """It was a reminder: where only the cue was heard, and C says that it was a praise."""
    BEFORE = "b"
    """To the phase before."""
    ACCEPT = "a"
    """Accept the rest: every mark that never was in doubt."""
    UNDO = "u"
    """Take back the newest step."""
    PLAY = "p"
    """Play its sound: on the page."""
    PHASE = "f"
    ROUTINE = "o"
    SCOPE = "s"
    LATER = "n"
    """Look at it later."""
    MISSED = "m"
    """Add a mark that was missed."""
    STOP = "q"
    """Leave the review: in the terminal, as Esc does."""


HINTS = {
    ReviewKey.KEEP: later("stays as it stands, and on"),
    ReviewKey.DROP: later("does not count"),
    ReviewKey.KIND: later("it was the other"),
    ReviewKey.REMINDER: later("it was a reminder"),
    ReviewKey.BEFORE: later("to the phase before"),
    ReviewKey.PHASE: later("phase"),
    ReviewKey.ROUTINE: later("routine"),
    ReviewKey.SCOPE: later("scope"),
    ReviewKey.LATER: later("look later"),
    ReviewKey.MISSED: later("add a missed mark"),
    ReviewKey.ACCEPT: later("accept the rest"),
    ReviewKey.UNDO: later("undo"),
}
"""What the keys do, in the order in which they are told; those of page and terminal alike."""
