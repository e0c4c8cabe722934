"""What a session can't take, and why."""

from companion.language import _
from companion.lesson import event as ev
from companion.lesson.care_refusal import care_refusal
from companion.lesson.child_code import CODE_WORDS, is_child_code
from companion.lesson.mark import Source
from companion.lesson.scope import scopes_of
from companion.lesson.session import Session


def refusal(session: Session, body: ev.Body) -> str | None:  # noqa: PLR0911, PLR0912 - one case a rule
    """Return why `body` can't be recorded in `session`, or None if it can.

    A settled session takes nothing that moves its count before it is opened again. What happens in a lesson
    can't begin after its close: what was said before it and decided later still counts. During the review, a
    step must be about a mark, near miss, note or phase that is there.
    """
    if is_after_settling(session, body):
        return _("the session is settled")
    if is_after_the_end(session, body):
        return _("the lesson is over")
    match body:
        case ev.SessionClosed() if session.closed:
            return _("the lesson is over already")
        case ev.SessionOpened():
            return _("the session is open already")
        case ev.SessionReopened() if not session.settled:
            return _("the session is not settled")
        case ev.SessionReopened(reason="") | ev.RecognitionOverruled(reason=""):
            return _("a reason is needed")
        case ev.ClassGroupNamed(class_group=""):
            return _("a class group needs a name")
        case ev.PhaseBegan(phase=phase) if not session.plan.phase(phase):
            return _no_phase(phase)
        case (
            ev.MarkAdded(phase=phase)
            | ev.MarkChanged(phase=str(phase))
            | ev.NearMissConfirmed(phase=str(phase))
        ) if phase not in session.phase_names:
            return _no_phase(phase)
        case (
            ev.MarkAdded(scope=scope)
            | ev.MarkChanged(scope=str(scope))
            | ev.MarkMade(scope=scope, source=Source.COMMAND_LINE)
        ) if scope not in scopes_of(session):
            *some, last = (f"'{one}'" for one in scopes_of(session))
            return _(
                "a mark is for {scopes} or {last}, never for a child, and not for '{scope}'",
                scopes=", ".join(some),
                last=last,
                scope=scope,
            )
        case (
            ev.MarkKept(mark=mark)
            | ev.MarkChanged(mark=mark)
            | ev.MarkDropped(mark=mark)
            | ev.MarkRestored(mark=mark)
            | ev.MarkDoubled(mark=mark)
        ) if not session.mark(mark):
            return _("there is no mark '{mark}'", mark=mark)
        case ev.MarkKept(mark=mark) | ev.MarkChanged(mark=mark) if not _stands(session, mark):
            return _("the mark '{mark}' does not count; it has to be restored first", mark=mark)
        case ev.NearMissConfirmed(near_miss=miss) | ev.NearMissDismissed(near_miss=miss):
            found = session.near_miss(miss)
            if found is None:
                return _("there is no near miss '{near_miss}'", near_miss=miss)
            return _("this near miss is answered already") if found.answered else None
        case ev.NoteCompleted(note=note) | ev.NoteDropped(note=note) if not session.note(note):
            return _("there is no individual note '{note}'", note=note)
        case ev.NoteCompleted(child=""):
            return _("a note needs {code}", code=_(CODE_WORDS))
        case ev.NoteCompleted(child=child) if not is_child_code(child):
            return _("a child is {code}, and '{child}' is neither", code=_(CODE_WORDS), child=child)
        case ev.LastTakenBack(taken_back=()) if session.settled:
            return _("nothing was done since the session was settled")
        case ev.LastTakenBack(taken_back=seqs) if {*seqs} - {event.seq for event in session.done}:
            return _("this can't be taken back")
        case ev.MarksTold(marks=marks) if {*marks} - {mark.id for mark in session.untold}:
            return _("the class was told of this already")
        case ev.EventTakenBack(taken_back=seq) if all(seq not in step for step in session.steps):
            return _("step {seq} can't be taken back", seq=seq)
    return care_refusal(session, body)


def is_after_settling(session: Session, body: ev.Body) -> bool:
    """Whether `body` would move a count that is settled."""
    return session.settled and not isinstance(body, ev.AFTER_SETTLING)


def is_after_the_end(session: Session, body: ev.Body) -> bool:
    """Whether `body` would begin after the close of its lesson."""
    return session.closed_ms is not None and isinstance(body, ev.IN_LESSON) and body.at_ms > session.closed_ms


def _no_phase(phase: str) -> str:
    return _("the plan has no phase '{phase}'", phase=phase)


def _stands(session: Session, mark_id: str) -> bool:
    mark = session.mark(mark_id)
    return mark is not None and mark.state.stands
