"""The keys of the review: one meaning each, on the page and in the terminal."""

from enum import StrEnum


class ReviewKey(StrEnum):
    """A key, and what it does to the entry that is looked at."""

    KEEP = "k"
    """Leave it as it is, and go on: a mark is kept, a near miss was nothing."""
    DROP = "d"
    """The other way round: a mark is dropped, a near miss was truly said."""
    KIND = "c"
    """Change the kind: praise becomes reminder, reminder praise."""
    BEFORE = "b"
    """To the phase before."""
    ACCEPT = "a"
    """Accept the rest: every mark that never was in doubt."""
    UNDO = "u"
    """Take back the newest step."""
    PLAY = "p"
    """Play its sound: on the page."""
    PHASE = "f"
    """Another phase: in the terminal, as those that follow; the page has a form for them."""
    ROUTINE = "o"
    SCOPE = "s"
    LATER = "n"
    MISSED = "m"
    """Add a mark that was missed."""
    STOP = "q"
