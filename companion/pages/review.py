"""The review: keep, change, drop or add marks, by keys, by a clicker or by hand."""

from dataclasses import dataclass

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.lesson.doubts import doubtful_at_first, doubts_of, earlier_phase, other_readings, review_list
from companion.lesson.mark import WHOLE_CLASS, Kind, Mark, MarkState
from companion.lesson.scope import scopes_of
from companion.lesson.session import Session
from companion.pages.desk import Desk, desk_of, text, then
from companion.pages.timeline import elapsed_ms, line_of
from companion.pages.words import recognition_words


@dataclass(frozen=True, slots=True)
class Card:
    """A mark as the review shows it."""

    mark: Mark
    look: bool
    """Whether it deserved a look."""
    doubts: tuple[str, ...]
    earlier: str | None
    playable: bool

    @property
    def open(self) -> bool:
        """Whether the review has not looked at it."""
        return self.mark.state is MarkState.UNREVIEWED


def cards_of(session: Session, sounds: frozenset[str]) -> tuple[Card, ...]:
    """Return all marks, those that deserved a look first, least certain first.

    The order stays the same while the review goes on, so that nothing moves under the teacher's hand.
    """
    cards = [
        Card(
            mark,
            mark.state is not MarkState.UNDONE and doubtful_at_first(session, mark),
            doubts_of(session, mark),
            earlier_phase(session, mark),
            mark.id in sounds,
        )
        for mark in session.marks
    ]
    looks = sorted(
        (card for card in cards if card.look), key=lambda card: (card.mark.certainty, card.mark.at_ms)
    )
    return (*looks, *(card for card in cards if not card.look))


def show(request: Request) -> Response:
    """Show the review of a session."""
    desk = desk_of(request)
    session = desk.session(request)
    sounds = desk.port.sounds(session.id)
    cards = cards_of(session, sounds)
    rest = [card for card in cards if not card.look]
    return desk.page(
        "review.html",
        session=session,
        line=line_of(session, elapsed_ms(session, desk.port.now_ms(session))),
        looks=[card for card in cards if card.look],
        rest=rest,
        rest_open=[card for card in rest if card.open],
        misses=[miss for miss in session.near_misses if miss.kind is not None],
        sounds=sounds,
        gaps=review_list(session),
        scopes=scopes_of(session),
        kinds=tuple(Kind),
        reached=recognition_words(session),
        unfinished_notes=sum(not note.complete for note in session.notes),
        stamp=desk.stamp(session),
    )


async def step(request: Request) -> Response:
    """Take one step of the review."""
    desk, session_id = desk_of(request), request.path_params["session"]
    form = await request.form()
    await run_in_threadpool(_step, desk, session_id, form)
    return then(f"/review/{session_id}")


def _step(desk: Desk, session_id: str, form: FormData) -> None:
    with desk.log() as log:
        session = log.session(session_id)
        if text(form, "do") == "undo":
            newest = session.steps[-1:]
            moments = {event.seq: event.at for event in log.events(session_id)}
            together = [seq for seq in session.steps if newest and moments[seq] == moments[newest[0]]]
            desk.append(session, form, *(ev.EventTakenBack(seq) for seq in reversed(together)))
            return
    desk.append(session, form, *bodies_of(session, form))


def bodies_of(session: Session, form: FormData) -> tuple[ev.Body, ...]:  # noqa: PLR0911 - one case a button
    """Return the events of one button of the review; none where it has nothing to change.

    Raises CompanionError for a button or value that the page does not have.
    """
    item = text(form, "item")
    match text(form, "do"):
        case "keep":
            return _keep(_mark(session, item))
        case "keep-rest":
            rest = (card.mark for card in cards_of(session, frozenset()) if card.open and not card.look)
            return tuple(ev.MarkKept(mark.id) for mark in rest)
        case "drop" if _mark(session, item).state.stands:
            return (ev.MarkDropped(item),)
        case "restore" if not _mark(session, item).state.stands:
            return (ev.MarkRestored(item),)
        case "flip":
            other = Kind.PRAISE if _mark(session, item).kind is Kind.REMINDER else Kind.REMINDER
            return (ev.MarkChanged(item, kind=other),)
        case "turn":
            return _turn(session, _mark(session, item))
        case "earlier" if before := earlier_phase(session, _mark(session, item)):
            return (ev.MarkChanged(item, phase=before),)
        case "change":
            return _change(session, _mark(session, item), form)
        case "add":
            return (_added(session, form),)
        case "confirm":
            return (ev.NearMissConfirmed(item, _kind(form)),)
        case "dismiss":
            return (ev.NearMissDismissed(item),)
        case "drop" | "restore" | "earlier":
            return ()
    raise CompanionError("This page has no such button.", remedy="Load it again.")


def _keep(mark: Mark) -> tuple[ev.Body, ...]:
    match mark.state:
        case MarkState.UNREVIEWED:
            return (ev.MarkKept(mark.id),)
        case MarkState.DROPPED | MarkState.UNDONE:
            return (ev.MarkRestored(mark.id),)
    return ()


def _turn(session: Session, mark: Mark) -> tuple[ev.Body, ...]:
    kind, phase = other_readings(session, mark)[1]
    return (ev.MarkChanged(mark.id, kind=kind, phase=phase or None),)


def _change(session: Session, mark: Mark, form: FormData) -> tuple[ev.Body, ...]:
    phase, routine = text(form, "phase"), text(form, "routine")
    scope = _one_of(text(form, "scope"), scopes_of(session))
    changed = ev.MarkChanged(
        mark.id,
        kind=_kind(form) if _kind(form) is not mark.kind else None,
        phase=phase if phase != mark.phase else None,
        scope=scope if scope != mark.scope else None,
        routine=routine if routine != (mark.routine or "") else None,
    )
    return (changed,) if changed != ev.MarkChanged(mark.id) else ()


def _added(session: Session, form: FormData) -> ev.MarkAdded:
    return ev.MarkAdded(
        _kind(form),
        text(form, "phase"),
        scope=_one_of(text(form, "scope") or WHOLE_CLASS, scopes_of(session)),
        routine=text(form, "routine") or None,
    )


def _kind(form: FormData) -> Kind:
    return Kind(_one_of(text(form, "kind"), tuple(Kind)))


def _one_of(value: str, known: tuple[str, ...]) -> str:
    if value not in known:
        raise CompanionError(f"This page has no '{value}' to choose.", remedy="Load it again.")
    return value


def _mark(session: Session, mark_id: str) -> Mark:
    if (mark := session.mark(mark_id)) is None:
        raise CompanionError(f"There is no mark '{mark_id}' in this session.", remedy="Load the page again.")
    return mark
