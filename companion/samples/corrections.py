"""The scripted review of a sample session: each correction found by time, turned into one step."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol, TypeVar

from companion.language import _, later
from companion.lesson import event as ev
from companion.lesson import review
from companion.lesson.mark import WHOLE_CLASS
from companion.lesson.session import Session
from companion.samples.sample import Correction

NEAR_MS = 5_000
"""How far from the script's time a mark, near miss or note may lie."""
NOTHING = {
    "keep": later("nothing to keep near {seconds} s"),
    "change": later("nothing to change near {seconds} s"),
    "drop": later("nothing to drop near {seconds} s"),
    "confirm": later("nothing to confirm near {seconds} s"),
    "note": later("nothing to note near {seconds} s"),
}
"""That there was nothing for a step of the script."""


class _Timed(Protocol):
    @property
    def at_ms(self) -> int: ...


_T = TypeVar("_T", bound=_Timed)


@dataclass(frozen=True, slots=True)
class Corrected:
    """One step of the review, of no event where there was nothing to correct, and how to say it."""

    bodies: tuple[ev.Body, ...]
    said: str


def correct(session: Session, correction: Correction) -> Corrected:  # noqa: PLR0911 - one case a step
    """Return the step that `correction` asks for in `session`.

    Raises CompanionError if it is none that a review can take.
    """
    if correction.do == "add":
        return _add(correction)
    if correction.do == "note":
        return _note(session, correction)
    miss = _nearest((miss for miss in session.near_misses if not miss.answered and miss.kind), correction)
    if correction.do == "confirm":
        if miss is None:
            return _nothing(correction)
        bodies = review.confirm(session, (miss.id,), correction.kind, correction.phase)
        kind = correction.kind or miss.kind
        said = _("near miss {near_miss} confirmed as {kind}", near_miss=miss.id, kind=_(str(kind)))
        return Corrected(bodies, said)
    mark = _nearest(session.standing, correction)
    if mark is None:
        return _nothing(correction)
    match correction.do:
        case "keep":
            return Corrected(review.keep(session, (mark.id,)), _("{mark} kept", mark=mark.id))
        case "drop":
            bodies = review.drop(session, (mark.id,), correction.reason)
            said = _("{mark} dropped: {reason}", mark=mark.id, reason=correction.reason)
            return Corrected(bodies, said)
        case _other:
            bodies = review.change(
                session,
                mark.id,
                kind=correction.kind,
                phase=correction.phase,
                scope=correction.scope,
                routine=correction.routine,
            )
            return Corrected(bodies, _("{mark} changed: {what}", mark=mark.id, what=_changed(correction)))


def _add(correction: Correction) -> Corrected:
    assert correction.kind is not None
    assert correction.phase is not None
    at_ms = None if correction.at_s is None else round(correction.at_s * 1000)
    bodies = review.add(
        correction.kind,
        correction.phase,
        at_ms=at_ms,
        scope=correction.scope or WHOLE_CLASS,
        routine=correction.routine,
    )
    return Corrected(bodies, _("{kind} added in {phase}", kind=_(correction.kind), phase=correction.phase))


def _note(session: Session, correction: Correction) -> Corrected:
    note = _nearest(session.notes, correction)
    if note is None:
        return _nothing(correction)
    body = ev.NoteCompleted(note.id, correction.child, note.kind, correction.line, correction.contact)
    return Corrected((body,), _("individual note {note} completed", note=note.id))


def _nothing(correction: Correction) -> Corrected:
    return Corrected((), _(NOTHING[correction.do], seconds=f"{correction.near_s or 0:.0f}"))


def _changed(correction: Correction) -> str:
    kind = None if correction.kind is None else _(correction.kind)
    fields = (kind, correction.phase, correction.scope, correction.routine)
    return ", ".join(field for field in fields if field is not None)


def _nearest(entries: Iterable[_T], correction: Correction) -> _T | None:
    near_ms = round((correction.near_s or 0) * 1000)
    within = [entry for entry in entries if abs(entry.at_ms - near_ms) <= NEAR_MS]
    return min(within, key=lambda entry: abs(entry.at_ms - near_ms), default=None)
