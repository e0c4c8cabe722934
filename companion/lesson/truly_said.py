"""Which phrases the review says were truly said, and which were heard where nobody said them."""

from collections.abc import Mapping

from companion.lesson.doubts import CERTAIN
from companion.lesson.mark import MarkState, Source
from companion.lesson.session import Session


def truly_said(session: Session) -> Mapping[str, str]:
    """Return the phrases of the marks and near misses (`m7`, `c9`) that a look of the teacher confirmed.

    A mark that was never in doubt is left out: nobody looked at it closely, and it teaches nothing new. So is
    what was confirmed as another kind than it was heard, and the cue alone: nobody said that phrase.
    """
    confirmed = {
        (mark.at_ms, mark.phrase, mark.kind) for mark in session.marks if mark.state is MarkState.CONFIRMED
    }
    said = {
        miss.id: miss.phrase
        for miss in session.near_misses
        if (miss.at_ms, miss.phrase, miss.kind) in confirmed
    }
    for mark in session.marks:
        kept = mark.state is MarkState.KEPT and mark.source is Source.VOICE and mark.certainty < CERTAIN
        if kept and mark.phrase:
            said[mark.id] = mark.phrase
    return said


def falsely_heard(session: Session) -> Mapping[str, str]:
    """Return the phrases of the marks by voice that the review dropped, by mark."""
    return {
        mark.id: mark.phrase
        for mark in session.marks
        if mark.state is MarkState.DROPPED and mark.source is Source.VOICE and mark.phrase
    }
