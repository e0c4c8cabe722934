"""What a step of the review means: the events that it records, all of them or none.

Pages, keys, command line and the script of a sample ask for the same steps. Each returns its events, none
where there is nothing to change; what is recorded together is taken back together. A mark that does not
stand is taken in again only by `restore`: no other step raises the count behind the teacher's back.
"""

from collections.abc import Iterable

from companion.errors import CompanionError
from companion.language import _
from companion.lesson import event as ev
from companion.lesson.command import Action
from companion.lesson.conduct import phase_after
from companion.lesson.doubts import doubtful_at_first, earlier_phase, other_readings
from companion.lesson.mark import WHOLE_CLASS, Kind, Mark, MarkState
from companion.lesson.near_miss import NearMiss
from companion.lesson.session import Session

Steps = tuple[ev.Body, ...]
"""The events of one step."""


def keep(session: Session, marks: Iterable[str]) -> Steps:
    """Accept marks as they are.

    Raises CompanionError if one is not there or does not stand.
    """
    found = [_standing(session, mark) for mark in marks]
    return tuple(ev.MarkKept(mark.id) for mark in _once(found) if mark.state is MarkState.UNREVIEWED)


def keep_clear(session: Session) -> Steps:
    """Accept the marks that nobody has looked at and that never were in doubt."""
    return keep(session, (mark.id for mark in session.unreviewed if not doubtful_at_first(session, mark)))


def keep_all(session: Session) -> Steps:
    """Accept every mark that nobody has looked at."""
    return keep(session, (mark.id for mark in session.unreviewed))


def drop(session: Session, items: Iterable[str], reason: str = "") -> Steps:
    """Take marks out of the count, unless they are already, and throw individual notes away.

    Raises CompanionError if one is not there.
    """
    items = tuple(dict.fromkeys(items))
    notes = [item for item in items if session.note(item)]
    marks = [_mark(session, item) for item in items if item not in notes]
    dropped = (ev.MarkDropped(mark.id, reason) for mark in marks if mark.state.stands)
    return (*dropped, *(ev.NoteDropped(note) for note in notes))


def restore(session: Session, marks: Iterable[str]) -> Steps:
    """Take dropped and undone marks into the count again; one that stands stays as it is.

    Raises CompanionError if one is not there.
    """
    found = [_mark(session, mark) for mark in marks]
    return tuple(ev.MarkRestored(mark.id) for mark in _once(found) if not mark.state.stands)


def change(
    session: Session,
    mark_id: str,
    *,
    kind: Kind | None = None,
    phase: str | None = None,
    scope: str | None = None,
    routine: str | None = None,
) -> Steps:
    """Say what a mark is; None leaves a field as it is. Where it is so already, that accepts the mark.

    routine: "" takes it away.

    Raises CompanionError if the mark is not there or does not stand.
    """
    mark = _standing(session, mark_id)
    changed = ev.MarkChanged(
        mark.id,
        kind=kind if kind is not mark.kind else None,
        phase=phase if phase != mark.phase else None,
        scope=scope if scope != mark.scope else None,
        routine=routine if routine != (mark.routine or "") else None,
    )
    return (changed,) if changed != ev.MarkChanged(mark.id) else keep(session, (mark.id,))


def flip(session: Session, mark_id: str) -> Steps:
    """Turn a praise into a reminder and a reminder into a praise.

    Raises CompanionError as `change` does.
    """
    kind = _mark(session, mark_id).kind
    return change(session, mark_id, kind=Kind.PRAISE if kind is Kind.REMINDER else Kind.REMINDER)


def turn(session: Session, mark_id: str) -> Steps:
    """Turn a mark to the next of its readings: the other kind, or the phase before.

    Raises CompanionError as `change` does.
    """
    mark = _mark(session, mark_id)
    kind, phase = other_readings(session, mark)[1]
    return change(session, mark_id, kind=kind, phase=phase or None)


def earlier(session: Session, marks: Iterable[str]) -> Steps:
    """Move marks that fell just after a phase change to the phase before.

    Raises CompanionError if one does not stand there.
    """
    return tuple(
        ev.MarkChanged(mark.id, phase=_earlier(session, mark))
        for mark in _once([_standing(session, mark) for mark in marks])
    )


def add(
    kind: Kind,
    phase: str,
    *,
    at_ms: int | None = None,
    scope: str = WHOLE_CLASS,
    routine: str | None = None,
    why: str = "",
) -> Steps:
    """Add a mark that was missed; without `at_ms` at the beginning of its phase. why: why it comes late."""
    return (ev.MarkAdded(kind, phase, at_ms, scope, routine or None, why),)


def confirm(
    session: Session, near_misses: Iterable[str], kind: Kind | None = None, phase: str | None = None
) -> Steps:
    """Say that near misses were truly said: what they asked for is done, as at the moment of the phrase.

    A mark, a note or a phase is made; what was to be taken back is dropped; for a phrase that only the lesson
    itself could have followed, nothing is left to do.

    kind: of the mark; None: as each was heard. phase: the mark's own; None: the one in which it was heard.

    Raises CompanionError if one is not there or answered, or names no command and `kind` is not said.
    """
    found = dict.fromkeys(_open_miss(session, miss) for miss in near_misses)
    return tuple(body for miss in found for body in _confirmed(session, miss, kind, phase))


def _confirmed(session: Session, miss: NearMiss, kind: Kind | None, phase: str | None) -> Steps:
    if of := kind or miss.kind:
        return (ev.NearMissConfirmed(miss.id, of, phase),)
    if miss.command is None:
        raise CompanionError(
            _("Nothing says of which kind the near miss {near_miss} was.", near_miss=miss.id),
            safe=_("Nothing was changed."),
            remedy=_("Say whether it was a praise or a reminder."),
        )
    nothing = ev.NearMissDismissed(miss.id)
    match miss.command.action:
        case Action.NOTE:
            return (ev.NearMissConfirmed(miss.id, None),)
        case Action.PHASE | Action.NEXT_PHASE:
            began = miss.command.phase or phase_after(session, miss.at_ms)
            return (ev.NearMissConfirmed(miss.id, None, began) if began else nothing,)
        case Action.UNDO:
            before = [mark for mark in session.standing if mark.at_ms <= miss.at_ms]
            return (*drop(session, [mark.id for mark in before[-1:]]), nothing)
    return (nothing,)


def dismiss(session: Session, near_misses: Iterable[str]) -> Steps:
    """Say that near misses were nothing.

    Raises CompanionError if one is not there or answered.
    """
    found = dict.fromkeys(_open_miss(session, miss) for miss in near_misses)
    return tuple(ev.NearMissDismissed(miss.id) for miss in found)


def undo(session: Session) -> Steps:
    """Take back the newest step, with all that was recorded in it."""
    newest = session.steps[-1] if session.steps else ()
    return tuple(ev.EventTakenBack(seq) for seq in reversed(newest))


def _mark(session: Session, mark_id: str) -> Mark:
    if (mark := session.mark(mark_id)) is None:
        raise CompanionError(
            _("There is no mark '{mark}' in this session.", mark=mark_id),
            safe=_("Nothing was changed."),
            remedy=_("Look at the list again."),
        )
    return mark


def _standing(session: Session, mark_id: str) -> Mark:
    mark = _mark(session, mark_id)
    if not mark.state.stands:
        raise CompanionError(
            _("The mark {mark} does not count: it was dropped.", mark=mark_id)
            if mark.state is MarkState.DROPPED
            else _("The mark {mark} does not count: it was undone.", mark=mark_id),
            safe=_("Nothing was changed."),
            remedy=_("Restore it first, if it was right."),
        )
    return mark


def _once(marks: Iterable[Mark]) -> Iterable[Mark]:
    return {mark.id: mark for mark in marks}.values()


def _earlier(session: Session, mark: Mark) -> str:
    if (before := earlier_phase(session, mark)) is None:
        raise CompanionError(
            _("The mark {mark} does not stand just after a phase change.", mark=mark.id),
            safe=_("Nothing was changed."),
            remedy=_("Change it, and name the phase."),
        )
    return before


def _open_miss(session: Session, near_miss: str) -> NearMiss:
    miss = session.near_miss(near_miss)
    if miss is None or miss.answered:
        raise CompanionError(
            _("The near miss {near_miss} is answered already.", near_miss=near_miss)
            if miss
            else _("There is no near miss '{near_miss}' in this session.", near_miss=near_miss),
            safe=_("Nothing was changed."),
            remedy=_("Look at the list again."),
        )
    return miss
