"""What is left to say to each class group, first thing when it comes."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.language import _
from companion.lesson import aftercare
from companion.lesson.carry_over import Answer
from companion.lesson.event import Body, CarryOverSaid
from companion.lesson.undo import last_step
from companion.log.care import answered_last, unsaid
from companion.log.store import SessionLog
from companion.pages.desk import Desk, desk_of, text, then
from companion.settings.pictures import Pictures, of_carry_over

ANSWERS: dict[type[Body], Answer] = {
    CarryOverSaid: Answer.SAID,
    aftercare.CarryOverDropped: Answer.DROPPED,
    aftercare.CarryOverMoved: Answer.MOVED,
}


@dataclass(frozen=True, slots=True)
class Answered:
    """A carry-over that was answered today, with a way back."""

    session: str
    class_group: str
    text: str
    answer: Answer
    seq: int
    """Number of the event that undo takes back."""


def show(request: Request) -> Response:
    """Show every carry-over that waits, by class group."""
    desk = desk_of(request)
    shelf = Pictures(desk.home.pictures)
    with desk.log() as log:
        waiting = sorted(unsaid(log), key=lambda one: (one.class_group, one.written.timestamp()))
        groups = log.class_groups()
        answered = list(_answered(log, desk.clock().date()))
    return desk.page(
        "next.html",
        waiting=[(group, list(ones)) for group, ones in groupby(waiting, key=lambda one: one.class_group)],
        nothing=[group for group in groups if group not in {one.class_group for one in waiting}],
        groups=groups,
        answered=answered,
        pictured={one.session for one in waiting if shelf.name_of(of_carry_over(one.session))},
    )


def _answered(log: SessionLog, today: date) -> Iterator[Answered]:
    """Yield what was answered today on its own session, as long as nothing else was done there since."""
    for session_id in answered_last(log):
        session = log.session(session_id)
        step = last_step(session)
        if step and type(step[-1].body) in ANSWERS and step[-1].at.astimezone().date() == today:
            answer = ANSWERS[type(step[-1].body)]
            yield Answered(session.id, session.class_group, session.carry_over, answer, step[-1].seq)


async def step(request: Request) -> Response:
    """Say that a carry-over was said, drop it, or move it to another class group."""
    desk, session_id = desk_of(request), request.path_params["session"]
    form = await request.form()
    await run_in_threadpool(_step, desk, session_id, form)
    return then("/next")


def _step(desk: Desk, session_id: str, form: FormData) -> None:
    with desk.log() as log:
        session = log.session(session_id)
    desk.append(session, form, _body(session_id, form))


def _body(session_id: str, form: FormData) -> Body:
    """Return the event of one button; it is recorded in the session in which the carry-over was written."""
    match text(form, "do"):
        case "said":
            return CarryOverSaid(session_id)
        case "drop":
            return aftercare.CarryOverDropped(session_id, text(form, "reason"))
        case "move":
            return aftercare.CarryOverMoved(session_id, text(form, "class_group", 80))
    raise CompanionError(_("This page has no such button."), remedy=_("Load it again."))
