"""The question before words that a class may see are kept: whether a child's code stands in them."""

from starlette.datastructures import FormData

from companion.language import later
from companion.lesson.initials import codes_in
from companion.lesson.session import Session
from companion.pages.desk import text

SEEN = {
    "text": later("What we say next time"),
    "why": later("Why it comes late"),
    "routine": later("Routine"),
}
"""The fields whose words a class may see, each with what it is called."""
STEPS = frozenset({"view", "carry-over", "add", "change"})
"""The buttons that keep such words."""


def codes_to_ask(session: Session, form: FormData) -> tuple[str, ...]:
    """Return what may be a child's code in words that `form` would show to a class, unless it is to stay."""
    if text(form, "do") not in STEPS or text(form, "sure"):
        return ()
    planned = session.plan.routines
    words = (text(form, name) for name in SEEN)
    return codes_of(session, " ".join(said for said in words if said not in planned))


def codes_of(session: Session, words: str) -> tuple[str, ...]:
    """Return what in `words` may be a child's code; the codes of the session's own notes are known."""
    return codes_in(words, [note.child for note in session.notes])
