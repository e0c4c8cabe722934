"""Undo: what was done last, whatever it was, and what taking it back says.

A step is one event, or several that were recorded together. What a clock or the microphone did is no step:
the clock would only do it again. Where the teacher asked for it at the same time, that is the last step, and
taking it back changes nothing. What was done before the count was settled needs the session's reopening.
"""

from companion.language import _, later, many
from companion.lesson import aftercare
from companion.lesson import event as ev
from companion.lesson.counting import minute
from companion.lesson.mark import Source
from companion.lesson.session import Session

LASTING = (ev.MarkMade, ev.ListeningPaused, ev.ListeningResumed)
"""What happened all the same when it is taken back: the mark is there as undone, the pause was a pause."""

STEPS = (
    *ev.TAKES_BACK,
    *LASTING,
    ev.ClassGroupNamed,
    ev.PhaseBegan,
    ev.AskedAgain,
    ev.MarksTold,
    ev.NoteOpened,
    ev.SessionClosed,
    ev.SelfRated,
    ev.TeacherViewed,
    ev.CarryOverWritten,
    ev.CarryOverSaid,
    aftercare.CarryOverDropped,
    aftercare.CarryOverMoved,
    aftercare.PromiseKept,
    aftercare.PromiseMoved,
    aftercare.PromiseDropped,
    aftercare.AwardReturned,
    aftercare.AwardBroughtBack,
    aftercare.RoutineTaughtAgain,
    aftercare.SessionTaught,
    aftercare.NoteHandedOver,
)
"""The kinds of events that undo takes back."""


def steps_after(steps: tuple[ev.Event, ...], event: ev.Event, *, begun: bool) -> tuple[ev.Event, ...]:
    """Return what undo could take back after `event`, oldest first, `steps` being that before it.

    begun: whether the lesson was in a phase already. The phase that it begins in is no step: a lesson is
    always in one.
    """
    match event.body:
        case ev.SessionSettled():
            return ()
        case ev.PhaseBegan(source=source) if source is Source.CLOCK or not begun:
            return steps
        case body if isinstance(body, STEPS):
            return (*steps, event)
    return steps


def last_step(session: Session) -> tuple[ev.Event, ...]:
    """Return the events that were the last step, oldest first; none if there is nothing to take back."""
    *before, last = session.done or (None,)
    if last is None:
        return ()
    step = [last]
    for event in reversed(before):
        if event is None or not _together(event, step[0]):
            break
        step.insert(0, event)
    return tuple(step)


def _together(event: ev.Event, following: ev.Event) -> bool:
    """Whether both were recorded in one step: several marks kept at once, or a class with its first phase."""
    if event.step != following.step:
        return False
    if isinstance(event.body, ev.ClassGroupNamed):
        return isinstance(following.body, ev.PhaseBegan)
    return isinstance(event.body, ev.TAKES_BACK) and isinstance(following.body, ev.TAKES_BACK)


def take_back(session: Session, at_ms: int, source: Source) -> ev.LastTakenBack:
    """Return the event that takes back the last step, or the vain one if there is none."""
    return ev.LastTakenBack(tuple(event.seq for event in last_step(session)), at_ms, source)


def reopens(session: Session, body: ev.Body) -> bool:
    """Return whether `body` takes back the end of the lesson, so that it goes on."""
    ends = (event.seq for event in session.done if isinstance(event.body, ev.SessionClosed))
    return isinstance(body, ev.LastTakenBack) and any(seq in body.taken_back for seq in ends)


def undo_words(session: Session) -> str:
    """Return what undo would take back now, as in `the praise in work time, 12:05`; "" for nothing.

    Nothing private is in it: a page for the class may show it.
    """
    return step_words(session, last_step(session))


def taken_back_words(session: Session) -> str:
    """Return what undo took back last, in the same words; "" if nothing was."""
    return step_words(session, session.taken_back)


def step_words(session: Session, step: tuple[ev.Event, ...]) -> str:  # noqa: PLR0911 - one case a kind
    """Return the events of a step in words."""
    if not step:
        return ""
    if len(step) > 1 and not isinstance(step[0].body, ev.ClassGroupNamed):
        return many("{count} step of the review", "{count} steps of the review", len(step))
    match step[0].body:
        case ev.MarkMade(kind=kind, at_ms=at_ms):
            mark = session.mark(f"m{step[0].seq}")
            if mark and mark.phase:
                words = _(
                    "the {kind} in {phase}, {minute}", kind=_(kind), phase=mark.phase, minute=minute(at_ms)
                )
            else:
                words = _("the {kind}, {minute}", kind=_(kind), minute=minute(at_ms))
            return words
        case ev.MarkAdded(kind=kind, phase=phase):
            return _("the {kind} added in {phase}", kind=_(kind), phase=phase)
        case ev.PhaseBegan(phase=phase):
            return _("the phase {phase}", phase=phase)
        case ev.AskedAgain(command=command):
            asked = command.phase or _(command.action)
            return _("“{command}”, which changed nothing", command=asked)
        case ev.ClassGroupNamed(class_group=class_group):
            return _("the name {class_group}", class_group=class_group)
        case ev.MarksTold(marks=marks):
            return many("the telling of {count} mark", "the telling of {count} marks", len(marks))
        case ev.CarryOverSaid():
            return _("“said”")
        case body:
            return _(_WORDS[type(body)])


_WORDS: dict[type[ev.Body], str] = {
    ev.MarkKept: later("a mark kept in the review"),
    ev.MarkChanged: later("a mark changed in the review"),
    ev.MarkDropped: later("a mark dropped in the review"),
    ev.MarkRestored: later("a mark taken in again"),
    ev.NearMissConfirmed: later("a near miss taken in"),
    ev.NearMissDismissed: later("a near miss put aside"),
    ev.NoteOpened: later("a private note begun"),
    ev.NoteCompleted: later("a private note completed"),
    ev.NoteDropped: later("a private note thrown away"),
    ev.RecognitionOverruled: later("the teacher's own recognition"),
    ev.ListeningPaused: later("the pause of listening"),
    ev.ListeningResumed: later("the end of the pause"),
    ev.SessionClosed: later("the end of the lesson"),
    ev.SelfRated: later("the class's own rating"),
    ev.TeacherViewed: later("the teacher's view"),
    ev.CarryOverWritten: later("what we say next time"),
    aftercare.CarryOverDropped: later("a carry-over dropped"),
    aftercare.CarryOverMoved: later("a carry-over moved to another class"),
    aftercare.PromiseKept: later("a promise kept"),
    aftercare.PromiseMoved: later("a promise moved"),
    aftercare.PromiseDropped: later("a promise dropped"),
    aftercare.AwardReturned: later("an award that came back"),
    aftercare.AwardBroughtBack: later("an award that came back"),
    aftercare.RoutineTaughtAgain: later("a routine taught again"),
    aftercare.SessionTaught: later("who taught the lesson"),
    aftercare.NoteHandedOver: later("the note handed over"),
}
