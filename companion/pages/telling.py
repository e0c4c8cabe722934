"""What the class has been told, and what the teacher did last."""

from collections import Counter
from dataclasses import replace

from companion.language import _
from companion.lesson.event import MarksTold
from companion.lesson.mark import Mark
from companion.lesson.session import Session
from companion.lesson.undo import taken_back_words, undo_words


def as_told(session: Session) -> Session:
    """Return `session` as the class knows it: without the marks that are held."""
    held = {mark.id for mark in session.untold}
    if not held:
        return session
    known = tuple(mark for mark in session.marks if mark.id not in held)
    tally = Counter((mark.phase, mark.routine or "", mark.kind) for mark in known if mark.state.stands)
    return replace(session, marks=known, tally=tuple((*of, number) for of, number in tally.items()))


def just_told(session: Session) -> tuple[Mark, ...]:
    """Return the marks that the class is being told of: those of the last step, if it was telling."""
    if not session.done or not isinstance(session.done[-1].body, MarksTold):
        return ()
    return tuple(mark for mark in session.standing if mark.id in session.last_told)


def done_words(session: Session) -> str:
    """Return what was done or taken back last, as a sentence; "" for nothing. Nothing private is in it."""
    undone, newest = session.taken_back, session.done[-1:]
    if undone and (not newest or newest[0].seq < undone[-1].seq):
        return _("Taken back: {step}.", step=taken_back_words(session))
    return _("Done last: {step}.", step=undo_words(session)) if newest else ""
