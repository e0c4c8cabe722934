"""What can't become of promises, awards and carry-overs, and why."""

from companion.language import _
from companion.lesson import aftercare
from companion.lesson.event import Body
from companion.lesson.promise import PromiseState
from companion.lesson.session import Session


def care_refusal(session: Session, body: Body) -> str | None:  # noqa: PLR0911 - one case a rule
    """Return why an event of `companion.lesson.aftercare` can't be recorded in `session`, or None."""
    match body:
        case aftercare.PromiseKept(note=note) | aftercare.PromiseMoved(note=note):
            return _no_promise(session, note)
        case aftercare.PromiseDropped(note=note):
            return _no_promise(session, note) or (None if body.reason else _("a reason is needed"))
        case aftercare.AwardReturned() if session.award is None or not session.award.is_out:
            return _("no award of this session is out")
        case aftercare.AwardBroughtBack(origin=""):
            return _("it is not known which award this is")
        case aftercare.AwardBroughtBack(origin=origin) if origin in _back_here(session):
            return _("this award is back already")
        case aftercare.AwardGiven(object=""):
            return _("an award needs a name")
        case aftercare.RoutineTaughtAgain(phase=phase) if phase not in session.phase_names:
            return _("the plan has no phase '{phase}'", phase=phase)
        case aftercare.CarryOverMoved(class_group=""):
            return _("a class group needs a name")
        case aftercare.CarryOverDropped(origin="") | aftercare.CarryOverMoved(origin=""):
            return _("it is not known which carry-over this is")
    return None


def _back_here(session: Session) -> set[str]:
    """Return the sessions whose awards were brought back in this one."""
    return {award.origin for award in session.brought_back}


def _no_promise(session: Session, note: str) -> str | None:
    """Return why nothing can become of the promise in `note`: there is none, or it is done."""
    promise = next((promise for promise in session.promises if promise.note == note), None)
    if promise is None:
        return _("no family contact was planned in the individual note '{note}'", note=note)
    match promise.state:
        case PromiseState.KEPT:
            return _("this promise is kept already")
        case PromiseState.DROPPED:
            return _("this promise is dropped already")
    return None
