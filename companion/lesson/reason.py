"""What spoke for a phrase that was heard and what against it: kept in English, read in any language."""

import re

from companion.language import _, later

_KNOWN = (
    later("another voice"),
    later("no command followed"),
    later("no command was clear after the cue"),
    later("the sounds fit well"),
    later("the sounds fit poorly"),
    later("like your takes"),
    later("unlike your takes"),
    later("the grammar alone"),
    later("free speech was understood as “{words}”, {share} alike"),
    later("the phrase explains the sound as well as free speech"),
    later("the phrase explains the sound better than free speech ({ratio})"),
    later("the phrase explains the sound worse than free speech ({ratio})"),
    later("no other phrase came near"),
    later("another reading came near"),
)
_PATTERNS = tuple(
    (re.compile(re.sub(r"\\\{(\w+)\\\}", r"(?P<\1>.*)", re.escape(message))), message) for message in _KNOWN
)


def reason_words(reason: str) -> str:
    """Return a reason, as an engine gave it and the log keeps it, in the language that is spoken."""
    for pattern, message in _PATTERNS:
        if found := pattern.fullmatch(reason):
            return _(message, **found.groupdict())
    return reason
