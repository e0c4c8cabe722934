"""Counts in words."""

from companion.language import _, many


def how_many(count: int, one: str, more: str | None = None) -> str:
    """Return a count with its noun: `1 reminder`, `3 reminders`."""
    return f"{count} {one if count == 1 else more or one + 's'}"


def count_words(praise: int, reminder: int) -> str:
    """Return the count of a session: `7 praises, 1 reminder, margin +6`."""
    return _(
        "{praise}, {reminder}, margin {margin}",
        praise=many("{count} praise", "{count} praises", praise),
        reminder=many("{count} reminder", "{count} reminders", reminder),
        margin=signed(praise - reminder),
    )


def counted(praise: int, reminder: int) -> str:
    """Return two counts without their margin: `7 praises, 1 reminder`."""
    return _(
        "{praise}, {reminder}",
        praise=many("{count} praise", "{count} praises", praise),
        reminder=many("{count} reminder", "{count} reminders", reminder),
    )


def signed(number: int) -> str:
    """Return a margin with its sign: `+3`, `-2`, and `0` without one."""
    return f"{number:+d}" if number else "0"


def minute(at_ms: int) -> str:
    """Return a moment of the session as minutes and seconds, e.g. `12:05`."""
    return f"{at_ms // 60_000}:{at_ms // 1000 % 60:02d}"
