"""The review: keep, change, drop or add marks, by keys, by a clicker or by hand."""

from dataclasses import dataclass

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.language import _, later
from companion.lesson import event as ev
from companion.lesson import review
from companion.lesson.doubts import doubtful_at_first, doubts_of, earlier_phase, review_list
from companion.lesson.event import Body
from companion.lesson.mark import WHOLE_CLASS, Kind, Mark, MarkState
from companion.lesson.review_keys import HINTS
from companion.lesson.scope import scopes_of
from companion.lesson.session import Session
from companion.lesson.undo import last_step
from companion.pages.child_codes import SEEN, codes_to_ask
from companion.pages.desk import Desk, desk_of, text, then
from companion.pages.timeline import elapsed_ms, line_of
from companion.pages.undoing import undo_named
from companion.pages.words import recognition_words

WHYS = (
    later("my hands were full"),
    later("I was with one table"),
    later("I saw it only afterwards"),
)
"""Why a mark comes late, to choose from; another reason is typed."""


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
    return _page(request)


def _page(request: Request, kept: FormData | None = None, codes: tuple[str, ...] = ()) -> Response:
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
        misses=session.near_misses,
        sounds=sounds,
        gaps=review_list(session),
        scopes=scopes_of(session),
        kinds=tuple(Kind),
        whys=WHYS,
        hints=HINTS,
        reached=recognition_words(session),
        undoable=_undoable(session),
        kept=kept or {},
        codes=codes,
        seen=SEEN,
        stamp=desk.stamp(session),
    )


def _undoable(session: Session) -> int:
    """Return the number of the event that undo would take back here, or 0.

    A review goes back to its beginning and no further: the end of the lesson is taken back on its own page.
    """
    step = last_step(session)
    if session.settled or not step or isinstance(step[-1].body, ev.SessionClosed):
        return 0
    return step[-1].seq


async def step(request: Request) -> Response:
    """Take one step of the review."""
    desk, session_id = desk_of(request), request.path_params["session"]
    form = await request.form()
    if codes := await run_in_threadpool(_step, desk, session_id, form):
        return await run_in_threadpool(_page, request, form, codes)
    return then(f"/review/{session_id}")


def _step(desk: Desk, session_id: str, form: FormData) -> tuple[str, ...]:
    """Take a step, unless a child's code may be in its words; then return that."""
    with desk.log() as log:
        session = log.session(session_id)
    if codes := codes_to_ask(session, form):
        return codes
    if text(form, "do") == "undo":
        undo_named(desk, session, form)
    else:
        desk.append(session, form, *bodies_of(session, form))
    return ()


def bodies_of(session: Session, form: FormData) -> tuple[Body, ...]:  # noqa: PLR0911 - one case a button
    """Return the events of one button of the review; none where it has nothing to change.

    Raises CompanionError for a button or value that the page does not have, or for a step that can't be
    taken any more.
    """
    item = text(form, "item")
    match text(form, "do"):
        case "keep":
            return review.keep(session, (item,))
        case "keep-rest":
            return review.keep_clear(session)
        case "drop":
            return review.drop(session, (item,))
        case "restore":
            return review.restore(session, (item,))
        case "flip":
            return review.flip(session, item)
        case "turn":
            return review.turn(session, item)
        case "earlier":
            return review.earlier(session, (item,))
        case "change":
            return review.change(
                session,
                item,
                kind=_kind(form),
                phase=text(form, "phase"),
                scope=text(form, "scope"),
                routine=text(form, "routine"),
            )
        case "add":
            return review.add(
                _kind(form),
                text(form, "phase"),
                scope=text(form, "scope") or WHOLE_CLASS,
                routine=text(form, "routine"),
                why=text(form, "why", 80),
            )
        case "confirm":
            kind = _kind(form) if text(form, "kind") else None
            return review.confirm(session, (item,), kind)
        case "dismiss":
            return review.dismiss(session, (item,))
    raise CompanionError(_("This page has no such button."), remedy=_("Load it again."))


def _kind(form: FormData) -> Kind:
    try:
        return Kind(text(form, "kind"))
    except ValueError as error:
        raise CompanionError(_("This page has no such kind of mark."), remedy=_("Load it again.")) from error
