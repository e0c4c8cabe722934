"""From a command to the events that it causes in a lesson that is going on."""

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from operator import attrgetter

from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import Mark, NoteKind, Source
from companion.lesson.plan import Advance
from companion.lesson.session import Session
from companion.lesson.undo import take_back

SAME_MS = 2_000
"""Two sources that ask for the same thing within this time mean one thing."""


@dataclass(frozen=True, slots=True)
class HeardPhrase:
    """What a spotter knows of a phrase that it heard."""

    phrase: str
    confidence: float
    engine: str
    reasons: tuple[str, ...] = ()


def carry_out(  # noqa: PLR0911 - one case an action
    session: Session, command: Command, at_ms: int, source: Source, heard: HeardPhrase | None = None
) -> tuple[ev.Body, ...]:
    """Return the events that `command` causes, none if there is nothing to do.

    at_ms: when the phrase began or the key went down, in milliseconds since the session opened.
    heard: for `Source.VOICE` only.
    """
    match command.action:
        case Action.PRAISE | Action.REMINDER:
            return (_mark(session, command, at_ms, source, heard),)
        case Action.NEXT_PHASE | Action.PHASE if not _may_move_on(session, at_ms, source):
            return ()
        case Action.NEXT_PHASE if not _just_moved(session, at_ms, source):
            phase = phase_after(session, at_ms)
            return (ev.PhaseBegan(phase, at_ms, source),) if phase else ()
        case Action.PHASE if command.phase and session.plan.phase(command.phase):
            if session.phase is None or session.phase.name != command.phase:
                return (ev.PhaseBegan(command.phase, at_ms, source),)
        case Action.UNDO:
            return () if _just_undone(session, at_ms, source) else (take_back(session, at_ms, source),)
        case Action.TELL if session.untold:
            return (ev.MarksTold(tuple(mark.id for mark in session.untold), at_ms, source),)
        case Action.NOTE:
            return (ev.NoteOpened(command.note or NoteKind.OTHER, at_ms, source),)
        case Action.PAUSE if not session.paused:
            return (ev.ListeningPaused(at_ms, source),)
        case Action.RESUME if session.paused:
            return (ev.ListeningResumed(at_ms, source),)
    return _asked_again(session, command, at_ms, source)


def in_vain(session: Session, command: Command, at_ms: int, source: Source) -> bool:
    """Whether the lesson can't do what `command` asks for, so that `carry_out` gives no event.

    Where it gives none since things are as they were asked to be, that is not in vain.
    """
    match command.action:
        case Action.NEXT_PHASE | Action.PHASE if not _may_move_on(session, at_ms, source):
            return True
        case Action.NEXT_PHASE:
            return not _just_moved(session, at_ms, source) and phase_after(session, at_ms) is None
        case Action.PHASE:
            return not (command.phase and session.plan.phase(command.phase))
        case Action.TELL:
            return not session.untold
    return False


def near_miss(command: Command | None, at_ms: int, heard: HeardPhrase) -> ev.NearMissHeard:
    """Return the event of a candidate that did not fire; `command` is what it would have done, if any."""
    return ev.NearMissHeard(
        heard.phrase, at_ms, heard.confidence, command, engine=heard.engine, reasons=heard.reasons
    )


def phase_after(session: Session, at_ms: int) -> str | None:
    """Return the planned phase that follows the one in force at `at_ms`, or None after the last."""
    index = session.span_at(at_ms)
    if index is None:
        return session.plan.phases[0].name
    following = session.plan.after(session.phases[index].name)
    return following.name if following else None


def _just_moved(session: Session, at_ms: int, source: Source) -> bool:
    """Whether another source moved the lesson on a moment ago: one step, asked for twice."""
    current = session.phase
    return (
        current is not None
        and len(session.phases) > 1
        and abs(at_ms - current.began_ms) <= SAME_MS
        and current.source is not source
    )


def _just_undone(session: Session, at_ms: int, source: Source) -> bool:
    """Whether the voice asked for this undo where a hand has just done it, or the other way round."""
    last = session.undone
    return (
        last is not None
        and (last.source is Source.VOICE) != (source is Source.VOICE)
        and abs(at_ms - last.at_ms) <= SAME_MS
    )


def _asked_again(session: Session, command: Command, at_ms: int, source: Source) -> tuple[ev.AskedAgain, ...]:
    """Return what notes that things were as `command` asks; nothing where the last step has made them so.

    That step is what undo takes back then.
    """
    if in_vain(session, command, at_ms, source):
        return ()
    match command.action, session.done[-1].body if session.done else None:
        case (
            (_, ev.AskedAgain())
            | (Action.PAUSE, ev.ListeningPaused())
            | (Action.RESUME, ev.ListeningResumed())
            | (Action.OPEN | Action.CLOSE, _)
        ):
            return ()
        case (_, ev.PhaseBegan(at_ms=began_ms)) if session.phase and session.phase.began_ms == began_ms:
            return ()
    return (ev.AskedAgain(command, at_ms, source),)


def _may_move_on(session: Session, at_ms: int, source: Source) -> bool:
    """Whether the phase in force lets `source` end it: a key and the page always may."""
    needed = {Source.VOICE: Advance.PHRASE, Source.CLOCK: Advance.CLOCK}.get(source)
    index = session.span_at(at_ms)
    phase = None if index is None else session.plan.phase(session.phases[index].name)
    return needed is None or phase is None or needed in phase.advance


def _mark(
    session: Session, command: Command, at_ms: int, source: Source, heard: HeardPhrase | None
) -> ev.MarkMade | ev.MarkDoubled:
    assert command.kind is not None
    for mark in reversed(_near(session.marks, at_ms)):
        if mark.state.stands and _means_the_same(mark, command, source):
            return ev.MarkDoubled(mark.id, at_ms, source)
    if heard is None:
        return ev.MarkMade(
            command.kind, at_ms, source, command.scope, command.routine, held=session.holds_marks
        )
    return ev.MarkMade(
        command.kind,
        at_ms,
        source,
        command.scope,
        command.routine,
        heard.phrase,
        heard.confidence,
        heard.engine,
        heard.reasons,
        held=session.holds_marks,
    )


def _near(marks: tuple[Mark, ...], at_ms: int) -> tuple[Mark, ...]:
    """Return those of `marks`, which are in order, that were made at about `at_ms`."""
    first = bisect_left(marks, at_ms - SAME_MS, key=attrgetter("at_ms"))
    return marks[first : bisect_right(marks, at_ms + SAME_MS, key=attrgetter("at_ms"))]


def _means_the_same(mark: Mark, command: Command, source: Source) -> bool:
    """Whether `command`, by voice where `mark` was by hand or the other way round, means it again."""
    by_voice = source is Source.VOICE
    return (
        mark.kind is command.kind
        and mark.scope == command.scope
        and (mark.source is Source.VOICE) != by_voice
        and not any((doubled is Source.VOICE) == by_voice for doubled in mark.doubled_by)
    )
