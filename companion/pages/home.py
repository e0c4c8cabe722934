"""The first page: the board of the day, with what is to be done for each lesson, promises and awards."""

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.language import _, later, word
from companion.lesson import aftercare
from companion.lesson.board import BoardLesson, Next, board_of, is_empty
from companion.lesson.mark import NoteKind
from companion.lesson.opening import UNPLANNED
from companion.lesson.promise import promise_words
from companion.lesson.undo import last_step, step_words
from companion.listening.voice.drift import heard_less
from companion.log.care import Promised, awards_back, awards_out, promises, promises_done
from companion.log.store import SessionLog
from companion.log.summary import Summary
from companion.pages.desk import Desk, desk_of, text, then, wish_of
from companion.pages.setup.steps import WayIn
from companion.pages.stream import streamed
from companion.recording.due import told
from companion.settings.settings import load_settings

NEWEST = 60
"""Sessions that are looked through: two weeks of a specialist."""
SOON_DAYS = 7
"""Promises that are due later than this are folded away."""
MOST_PROMISES = 12
"""So many promises stand on the board at once, those that are due nearest to today."""

NEXT_WORDS = {
    Next.LIVE: (later("To the lesson"), "live"),
    Next.REVIEW: (later("Review"), "review"),
    Next.PRIVATE_NOTES: (later("Complete private notes"), "private"),
    Next.REFLECTION: (later("Reflect and settle"), "reflection"),
    Next.NOTE: (later("Hand over the note"), "note"),
}
"""The button for the next thing, and the page that it leads to."""


@dataclass(frozen=True, slots=True)
class BoardRow:
    """A lesson as the board shows it."""

    lesson: BoardLesson
    next: Next | None
    when: str
    """`past`, `now` or `ahead`."""
    undo: str
    """What undo would take back in it."""
    empty: bool
    """Whether the lesson is over and holds nothing to look at."""


@dataclass(frozen=True, slots=True)
class PromiseRow:
    """A promise as the board shows it."""

    promised: Promised
    words: str
    overdue: bool
    soon: bool


@dataclass(frozen=True, slots=True)
class Done:
    """Something that was looked after today, with a way back."""

    session: str
    words: str
    seq: int
    """Number of the event that undo takes back."""


def show(request: Request) -> Response:
    """Show the board of today."""
    desk, now = desk_of(request), desk_of(request).clock()
    way_in = WayIn.recall(desk.home)
    if way_in.leads:
        return then(f"/setup/{way_in.next.key}")
    choice = desk.port.choice()
    with desk.log() as log:
        promised = promises(log)
        shown = promised if "promises" in request.query_params else _nearest(promised, now.date())
        summaries = log.summaries(most=NEWEST)
        sessions = [log.session(one.session) for one in summaries if _of_today(one, now)]
        rows = [_row(row, now) for row in board_of(desk.port.today(), sessions)]
        planned = choice.class_groups if choice else ()
        return desk.page(
            "home.html",
            now=now,
            rows=rows,
            running=next((one for one in summaries if not one.closed), None),
            older=[one for one in summaries if one.waits and not _of_today(one, now)],
            choice=choice,
            groups=sorted({*log.class_groups(), *planned} - {UNPLANNED}),
            promises=[_promise(one, now.date()) for one in shown],
            more_promises=len(promised) - len(shown),
            lent=awards_out(log),
            done=list(_done_today(log, now.date())),
            notes=sum(session.settled and not is_empty(session) for session in sessions),
            way_in=way_in,
            to_hand_over=sum(row.next is Next.NOTE for row in rows),
            next_words=NEXT_WORDS,
            forgotten=_forgotten(log, desk, now),
            heard_less=heard_less(log, desk.home.voice),
            kinds=tuple(NoteKind),
            stamp=board_stamp(log, desk),
            stream="/stream",
        )


def _forgotten(log: SessionLog, desk: Desk, now: datetime) -> list[str]:
    """Return what is to be told of forgetting; nothing where no settings say what is due."""
    try:
        return told(log, load_settings(desk.home.settings), now)
    except CompanionError:
        return []


async def open_session(request: Request) -> Response:
    """Open a session of the class group that was named, or of none."""
    desk, form = desk_of(request), await request.form()
    what = text(form, "class_group"), text(form, "plan") or None, text(form, "room")
    opened = await run_in_threadpool(desk.port.open, *what, request=wish_of(form))
    await run_in_threadpool(desk.drafts.forget, text(form, "draft"))
    return then(f"/live/{opened.id}")


def live(request: Request) -> Response:
    """Lead to the live page of the lesson that is open, else to the first page."""
    with desk_of(request).log() as log:
        running = next((s for s in log.summaries(most=NEWEST) if not s.closed), None)
    return then(f"/live/{running.session}" if running else "/")


def stream(request: Request) -> Response:
    """Tell the board whenever anything of the day has changed: a lesson, a step, or the time."""
    desk = desk_of(request)
    return streamed(desk, newest_event, lambda newest: day_stamp(newest, desk))


def board_stamp(log: SessionLog, desk: Desk) -> str:
    """Return what changes whenever the day has something new to show."""
    with log.reading() as db:
        return day_stamp(newest_event(db.conn), desk)


def day_stamp(newest: str, desk: Desk) -> str:
    """Return the stamp of the day whose `newest_event` is known."""
    return f"{newest}-{_of_the_hour(desk)}"


def newest_event(db: sqlite3.Connection) -> str:
    """Return what changes with every event of any session, and with whatever is forgotten."""
    sql = "SELECT (SELECT max(rowid) FROM event), (SELECT count(*) FROM forgotten)"
    return "-".join(str(part) for part in db.execute(sql).fetchone())


def _of_the_hour(desk: Desk) -> str:
    """Return what changes when the time brings another lesson."""
    choice, now = desk.port.choice(), desk.clock()
    coming = choice.coming if choice else None
    over = sum(lesson.ends <= now for lesson in desk.port.today())
    begun = coming is not None and coming.begins <= now
    return f"{hash((coming, begun, over, now.date())) & 0xFFFFFFFF:x}"


def _of_today(summary: Summary, now: datetime) -> bool:
    return not summary.closed or summary.opened_at.astimezone(now.tzinfo).date() == now.date()


def _row(row: BoardLesson, now: datetime) -> BoardRow:
    session = row.session
    if session is not None and not session.closed:
        when = "now"
    elif session is None and row.lesson is not None and row.lesson.ends > now:
        when = "ahead"
    else:
        when = "past"
    undo = step_words(session, last_step(session)) if session is not None and session.closed else ""
    return BoardRow(row, row.next(now), when, undo, bool(session and session.closed and is_empty(session)))


def _nearest(promised: list[Promised], today: date) -> list[Promised]:
    """Return the `MOST_PROMISES` whose day is nearest, in the order in which they are due."""

    def days_off(one: Promised) -> int:
        # When only words say when, it is taken for soon.
        return abs((one.promise.due - today).days) if one.promise.due else SOON_DAYS

    nearest = sorted(promised, key=days_off)[:MOST_PROMISES]
    return [one for one in promised if one in nearest]


def _promise(one: Promised, today: date) -> PromiseRow:
    due = one.promise.due
    soon = due is None or (due - today).days <= SOON_DAYS
    return PromiseRow(one, promise_words(one.promise, today), one.promise.overdue(today), soon)


def _done_today(log: SessionLog, today: date) -> Iterable[Done]:
    """Yield the promises that were kept or dropped today and the awards that came back."""
    for one in promises_done(log, today):
        words = _(
            "{class_group}, {promise}: {state}",
            class_group=one.class_group,
            promise=promise_words(one.promise, today),
            state=word("promise", one.promise.state),
        )
        yield Done(one.session, words, _undoable(log, one.session, one.promise.note))
    for session, lent in awards_back(log, today):
        words = _("{object} is back from {class_group}", object=lent.object, class_group=lent.class_group)
        yield Done(session, words, _undoable(log, session))


def _undoable(log: SessionLog, session_id: str, note: str = "") -> int:
    """Return the number of the event that did away with the promise of `note`, or that took the award back.

    0 where something else was done in that session since: undo would take back that.
    """
    step = last_step(log.session(session_id))
    match step[-1].body if step else None:
        case aftercare.PromiseKept(note=done) | aftercare.PromiseDropped(note=done) if done == note:
            return step[-1].seq
        case aftercare.AwardReturned() | aftercare.AwardBroughtBack() if not note:
            return step[-1].seq
    return 0
