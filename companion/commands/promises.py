"""`companion promises`: family contacts that were planned, in all classes; ticked, moved or dropped."""

from collections.abc import Callable
from datetime import date, datetime

import click

from companion.commands.append import append_now
from companion.commands.given import GivenDate, GivenUnseen
from companion.errors import CompanionError
from companion.language import _, later, word
from companion.lesson.aftercare import PromiseDropped, PromiseKept, PromiseMoved
from companion.lesson.day_words import day_words, near_day
from companion.lesson.event import Body
from companion.lesson.mark import Source
from companion.lesson.promise import PromiseState, promise_words
from companion.lesson.undo import last_step, take_back
from companion.log.care import Promised, promises
from companion.log.store import SessionLog, open_log
from companion.paths import Home

LETTERS = 5
"""So many last letters of a session's name stand in a promise's."""


@click.group("promises", invoke_without_command=True)
@click.option("--all", "every", is_flag=True, help="Also those that were kept or dropped.")
@click.pass_context
def promises_(ctx: click.Context, *, every: bool) -> None:
    """List the family contacts that were planned in any class, those due first.

    They are private: they name children by initials or seat.
    """
    if ctx.invoked_subcommand is not None:
        return
    home: Home = ctx.obj
    with open_log(home.log) as log:
        listed = promises(log, every=every)
    for one in listed:
        click.echo(f"{_name(one)}  {_line(one)}")
    if not listed:
        click.echo(_("Nothing is promised."))


@promises_.command()
@click.argument("name")
@click.option("--on", type=GivenDate(), help="The day on which it was done; today if not given.")
@click.option(
    "--line",
    default="",
    type=GivenUnseen(later("What came of it")),
    help="What came of it, in a sentence. - asks for it, so that no other user of the computer can read it "
    "meanwhile.",
)
@click.option("--tell", is_flag=True, help="Let it stand on the class's next hand-off note.")
@click.pass_obj
def tick(home: Home, name: str, on: datetime | None, line: str, *, tell: bool) -> None:
    """Tick the promise NAME, as the list shows it: the family was contacted."""
    day = on.date() if on else _today()
    if day > _today():
        raise CompanionError(
            _("{day} is still to come.", day=day_words(day)),
            safe=_("Nothing was ticked."),
            remedy=_("Tick it when it is done."),
        )
    _record(
        home,
        name,
        lambda note: PromiseKept(note, day, line.strip(), tell),
        _("done on {day}", day=day_words(day)),
    )


@promises_.command()
@click.argument("name")
@click.argument("day", type=GivenDate())
@click.pass_obj
def move(home: Home, name: str, day: datetime) -> None:
    """Move the promise NAME to another DAY."""
    due = day.date()
    if due < _today():
        raise CompanionError(
            _("{day} is past.", day=day_words(due)),
            safe=_("The promise is as it was."),
            remedy=_("Name today or a later day."),
        )
    _record(home, name, lambda note: PromiseMoved(note, due), _("moved to {day}", day=day_words(due)))


@promises_.command()
@click.argument("name")
@click.option("--reason", prompt="Why is it dropped", help="Why the family need not be contacted any more.")
@click.pass_obj
def drop(home: Home, name: str, reason: str) -> None:
    """Drop the promise NAME, for a reason."""
    _record(home, name, lambda note: PromiseDropped(note, reason.strip()), word("promise", "dropped"))


@promises_.command()
@click.argument("name")
@click.pass_obj
def undo(home: Home, name: str) -> None:
    """Take back what was done last with the promise NAME."""
    with open_log(home.log) as log:
        found = _find(log, name)
        session = log.session(found.session)
        step = (event.body for event in last_step(session))
        mine = (body for body in step if isinstance(body, PromiseKept | PromiseMoved | PromiseDropped))
        if not any(body.note == found.promise.note for body in mine):
            raise CompanionError(
                _("Nothing was done with this promise, or something else in its lesson since."),
                safe=_("Nothing was taken back."),
                remedy=_("See how it stands with: companion promises --all"),
            )
        append_now(log, session, take_back(session, session.last_ms, Source.COMMAND_LINE))
        click.echo(f"{_('Taken back.')} {_line(_find(log, name))}")


def _record(home: Home, name: str, body_of: Callable[[str], Body], done: str) -> None:
    """Record what becomes of a promise, and say so with the way back."""
    with open_log(home.log) as log:
        found = _find(log, name)
        append_now(log, log.session(found.session), body_of(found.promise.note))
    click.echo(f"{found.class_group}, {promise_words(found.promise, _today())}: {done}.")
    click.echo(_("Take it back with: companion promises undo {promise}", promise=_name(found)))


def _find(log: SessionLog, name: str) -> Promised:
    """Return the promise called `name`.

    Raises CompanionError if there is none.
    """
    for one in promises(log, every=True):
        if _name(one).casefold() == name.casefold():
            return one
    raise CompanionError(
        _("There is no promise '{name}'.", name=name),
        remedy=_("See what is promised, and each one's name: companion promises"),
    )


def _name(one: Promised) -> str:
    """Return what a promise is called in the terminal: the end of its session's name, and its note."""
    return f"{one.session[-LETTERS:].lower()}-{one.promise.note}"


def _line(one: Promised) -> str:
    promise = one.promise
    said = f"{one.class_group}, {promise_words(promise, _today())}"
    match promise.state:
        case PromiseState.KEPT:
            day = near_day(promise.on, _today()) if promise.on else ""
            done = _("done on {day}", day=day) if day else word("promise", "done")
            return f"{said}; {done}{_more(promise.line)}"
        case PromiseState.DROPPED:
            return f"{said}; {word('promise', 'dropped')}{_more(promise.line)}"
    return f"{said} ({_('overdue')})" if promise.overdue(_today()) else said


def _more(line: str) -> str:
    return f": {line}" if line else ""


def _today() -> date:
    return datetime.now().astimezone().date()
