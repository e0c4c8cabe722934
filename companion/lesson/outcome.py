"""What a command comes to in a session: the events to record, or why there is nothing to record."""

from dataclasses import dataclass

from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.mark import Mark, Source
from companion.lesson.session import Session

SAME_MARK_MS = 2_000
"""Voice and key this close together that say the same are one mark."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What a spotter says of a phrase that became a command."""

    phrase: str
    confidence: float
    engine: str
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Outcome:
    """The event to record for a command; None with a reason when the command changes nothing."""

    body: ev.Body | None
    refused: str = ""


def outcome(
    session: Session, command: Command, *, at_ms: int, source: Source, heard: Heard | None = None
) -> Outcome:
    """Return what `command` comes to in `session`.

    at_ms: when the phrase began or the key went down, since the session opened; never the moment of
    the decision.
    """
    match command.action:
        case Action.PRAISE | Action.REMINDER:
            return Outcome(_mark(session, command, at_ms, source, heard))
        case Action.NEXT_PHASE | Action.PHASE:
            return _phase(session, command, at_ms, source)
        case Action.UNDO:
            return Outcome(ev.UndoAsked(at_ms, source))
        case Action.NOTE if command.note is not None:
            return Outcome(ev.NoteOpened(command.note, at_ms, source))
        case Action.PAUSE:
            if session.paused:
                return Outcome(None, "listening is paused already")
            return Outcome(ev.ListeningPaused(at_ms, source))
        case Action.RESUME:
            if not session.paused:
                return Outcome(None, "listening is not paused")
            return Outcome(ev.ListeningResumed(at_ms, source))
        case _:
            return Outcome(None, "the note has no kind")


def _mark(session: Session, command: Command, at_ms: int, source: Source, heard: Heard | None) -> ev.Body:
    assert command.kind is not None
    for mark in session.standing:
        if _means_the_same(mark, command, at_ms, source):
            return ev.MarkDoubled(mark.id, at_ms, source)
    return ev.MarkMade(
        kind=command.kind,
        at_ms=at_ms,
        source=source,
        scope=command.scope,
        routine=command.routine,
        phrase=heard.phrase if heard else None,
        confidence=heard.confidence if heard else None,
        engine=heard.engine if heard else None,
        reasons=heard.reasons if heard else (),
    )


def _means_the_same(mark: Mark, command: Command, at_ms: int, source: Source) -> bool:
    """Return whether the voice and a hand said the same; two marks of one source stay two."""
    by_voice = {mark.source is Source.VOICE, source is Source.VOICE}
    return (
        (mark.kind, mark.scope) == (command.kind, command.scope)
        and abs(mark.at_ms - at_ms) <= SAME_MARK_MS
        and len(by_voice) == 2
        and source not in mark.doubled_by
    )


def _phase(session: Session, command: Command, at_ms: int, source: Source) -> Outcome:
    current = session.phase
    if command.action is Action.PHASE:
        wanted = session.plan.phase(command.phase or "")
    elif current is not None and _just_moved(session, at_ms, source):
        return Outcome(None, f"the lesson has just moved on to {current.name}")
    else:
        wanted = session.plan.after(current.name) if current else session.plan.phases[0]
    if wanted is None:
        return Outcome(None, "the plan has no such phase")
    if current is not None and current.name == wanted.name:
        return Outcome(None, f"the lesson is in {wanted.name} already")
    return Outcome(ev.PhaseBegan(wanted.name, at_ms, source))


def _just_moved(session: Session, at_ms: int, source: Source) -> bool:
    """Return whether another source moved the lesson on a moment ago: one step, asked for twice."""
    current = session.phase
    return (
        current is not None
        and len(session.phases) > 1
        and abs(at_ms - current.began_ms) <= SAME_MARK_MS
        and current.source is not source
    )
