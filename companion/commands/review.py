"""`companion review`: keep, change, drop or add marks before the reflection."""

import json
import sys
from collections.abc import Iterable
from dataclasses import dataclass

import click
from rich.console import Console

from companion.commands.append import append_now
from companion.commands.review_keys import review_by_keys
from companion.commands.session_json import session_json
from companion.commands.shown import count_line, print_review_list
from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.lesson.doubts import earlier_phase
from companion.lesson.mark import WHOLE_CLASS, FamilyContact, Kind, NoteKind
from companion.lesson.session import Session
from companion.log.store import SessionLog, open_log
from companion.paths import Home

KIND = click.Choice([kind.value for kind in Kind])
SCOPE_HELP = "'class', 'part of the class', or a table: 'table four'."


class ReviewGroup(click.Group):
    """A group whose session may be left out: `review drop m7` is about the newest one."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Put an empty session before a step that stands first."""
        if args and args[0] in self.commands:
            args = ["", *args]
        return super().parse_args(ctx, args)


@dataclass(frozen=True, slots=True)
class Reviewed:
    """The session under review and the log that keeps it."""

    log: SessionLog
    session: Session

    def record(self, bodies: Iterable[ev.Body]) -> None:
        """Append the steps and say how the count stands."""
        session = self.session
        for body in bodies:
            session = append_now(self.log, session, body)
        click.echo(count_line(session))


@click.group(cls=ReviewGroup, invoke_without_command=True)
@click.argument("session", required=False)
@click.option("--list", "only_list", is_flag=True, help="Print the list and ask nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print the session as one JSON object.")
@click.pass_context
def review(ctx: click.Context, *, session: str | None, only_list: bool, as_json: bool) -> None:
    """Review the marks of a session (the newest one), least certain first.

    Alone, it takes single keys in a terminal and prints the list elsewhere. Each step is also a
    subcommand, e.g. `companion review drop m7`.
    """
    home = ctx.find_object(Home)
    assert home is not None
    log = ctx.with_resource(open_log(home.log))
    found = log.find(session or None)
    ctx.obj = Reviewed(log, found)
    if ctx.invoked_subcommand is not None:
        return
    if as_json:
        click.echo(json.dumps(session_json(found), ensure_ascii=False))
        return
    console = Console(highlight=False)
    if not only_list and sys.stdin.isatty() and not found.settled:
        found = review_by_keys(console, found, lambda at, body: append_now(log, at, body))
    print_review_list(console, found)


@review.command()
@click.argument("marks", nargs=-1, required=True)
@click.pass_obj
def keep(reviewed: Reviewed, marks: tuple[str, ...]) -> None:
    """Accept marks as they are; `all` accepts every one that is left."""
    left = [mark.id for mark in reviewed.session.unreviewed]
    reviewed.record(ev.MarkKept(mark) for mark in (left if marks == ("all",) else marks))


@review.command()
@click.argument("marks", nargs=-1, required=True)
@click.option("--reason", default="")
@click.pass_obj
def drop(reviewed: Reviewed, marks: tuple[str, ...], reason: str) -> None:
    """Drop marks."""
    reviewed.record(ev.MarkDropped(mark, reason) for mark in marks)


@review.command()
@click.argument("marks", nargs=-1, required=True)
@click.pass_obj
def restore(reviewed: Reviewed, marks: tuple[str, ...]) -> None:
    """Take dropped or undone marks back in."""
    reviewed.record(ev.MarkRestored(mark) for mark in marks)


@review.command()
@click.argument("mark")
@click.option("--kind", type=KIND)
@click.option("--phase")
@click.option("--scope", help=SCOPE_HELP)
@click.option("--routine", help="What the mark is for; '' takes it away.")
@click.pass_obj
def change(
    reviewed: Reviewed,
    mark: str,
    *,
    kind: str | None,
    phase: str | None,
    scope: str | None,
    routine: str | None,
) -> None:
    """Change a mark's kind, phase, scope or routine."""
    reviewed.record([ev.MarkChanged(mark, Kind(kind) if kind else None, phase, scope, routine)])


@review.command()
@click.argument("marks", nargs=-1, required=True)
@click.pass_obj
def earlier(reviewed: Reviewed, marks: tuple[str, ...]) -> None:
    """Move marks that fell just after a phase change to the phase before."""
    reviewed.record([moved_earlier(reviewed.session, mark) for mark in marks])


def moved_earlier(session: Session, mark_id: str) -> ev.MarkChanged:
    """Return the step that moves a mark to the phase before.

    Raises CompanionError if the mark does not stand just after a phase change.
    """
    mark = session.mark(mark_id)
    before = earlier_phase(session, mark) if mark else None
    if before is None:
        raise CompanionError(
            f"The mark {mark_id} does not stand just after a phase change.",
            remedy=f"Name the phase: companion review change {mark_id} --phase …",
        )
    return ev.MarkChanged(mark_id, phase=before)


@review.command()
@click.argument("kind", type=KIND)
@click.option("--phase", required=True)
@click.option("--scope", default=WHOLE_CLASS, help=SCOPE_HELP)
@click.option("--routine")
@click.option("--at-s", type=float, help="When, in seconds since the session opened.")
@click.pass_obj
def add(
    reviewed: Reviewed, kind: str, *, phase: str, scope: str, routine: str | None, at_s: float | None
) -> None:
    """Add a mark that was missed, in any phase."""
    at_ms = None if at_s is None else round(at_s * 1000)
    reviewed.record([ev.MarkAdded(Kind(kind), phase, at_ms, scope, routine)])


@review.command()
@click.argument("near_misses", nargs=-1, required=True)
@click.option("--kind", type=KIND, help="Where the near miss does not say it.")
@click.option("--phase", help="Another phase than the one it was heard in.")
@click.pass_obj
def confirm(reviewed: Reviewed, near_misses: tuple[str, ...], kind: str | None, phase: str | None) -> None:
    """Say that near misses were marks."""
    reviewed.record(
        [confirmed(reviewed.session, miss, Kind(kind) if kind else None, phase) for miss in near_misses]
    )


def confirmed(
    session: Session, near_miss: str, kind: Kind | None = None, phase: str | None = None
) -> ev.NearMissConfirmed:
    """Return the step that makes a mark of a near miss.

    Raises CompanionError if it is not there or does not say of which kind the mark is.
    """
    found = session.near_miss(near_miss)
    if found is None or (kind or found.kind) is None:
        raise CompanionError(
            f"'{near_miss}' is no near miss of a mark.",
            remedy="See them with: companion review --list; or say which with --kind.",
        )
    return ev.NearMissConfirmed(near_miss, kind or found.kind or Kind.PRAISE, phase)


@review.command()
@click.argument("near_misses", nargs=-1, required=True)
@click.pass_obj
def dismiss(reviewed: Reviewed, near_misses: tuple[str, ...]) -> None:
    """Say that near misses were nothing."""
    reviewed.record(ev.NearMissDismissed(miss) for miss in near_misses)


@review.command()
@click.argument("note")
@click.option("--child", required=True, help="Initials or a seat number, never a name.")
@click.option(
    "--about",
    type=click.Choice([kind.value for kind in NoteKind]),
    help="Another kind than the note was opened with.",
)
@click.option("--line", default="", help="What happened, in a line.")
@click.option("--family", nargs=3, metavar="BY HOW WHEN", help="Who will contact the family, how and when.")
@click.pass_obj
def note(
    reviewed: Reviewed,
    note: str,
    *,
    child: str,
    about: str | None,
    line: str,
    family: tuple[str, str, str] | None,
) -> None:
    """Fill in an individual note that was opened in the lesson; it never moves the count."""
    found = reviewed.session.note(note)
    kind = NoteKind(about) if about else found.kind if found else NoteKind.OTHER
    contact = FamilyContact(*family) if family else None
    reviewed.record([ev.NoteCompleted(note, child, kind, line, contact)])


@review.command()
@click.pass_obj
def back(reviewed: Reviewed) -> None:
    """Take back the newest step of the review."""
    if not reviewed.session.steps:
        raise CompanionError("There is no step of the review to take back.", safe="Nothing was changed.")
    reviewed.record([ev.EventTakenBack(reviewed.session.steps[-1])])
