"""`companion review`: keep, change, drop or add marks before the reflection."""

import json
import sys
from collections.abc import Iterable
from dataclasses import dataclass

import click
from rich.console import Console

from companion.commands.append import append_all_now, append_now
from companion.commands.chosen import closed_only, named_session, reviewed_session
from companion.commands.given import Seconds
from companion.commands.review_keys import review_by_keys
from companion.commands.session_json import session_json
from companion.commands.shown import count_line, print_review_list
from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.lesson.counting import minute
from companion.lesson.doubts import earlier_phase
from companion.lesson.mark import WHOLE_CLASS, FamilyContact, Kind, NoteKind, Source
from companion.lesson.session import Session
from companion.log.store import SessionLog, open_log
from companion.paths import Home

KIND = click.Choice([kind.value for kind in Kind])
SCOPE_HELP = "'class', 'part of the class', or a table: 'table four'."


class ReviewGroup(click.Group):
    """A group whose session may be left out: `review drop m7` is about the newest one that waits."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Let options stand before or after the session, and an empty session before a step."""
        place = next((place for place, word in enumerate(args) if word in self.commands), len(args))
        own, step = args[:place], args[place:]
        options = [word for word in own if word.startswith("-")]
        named = [word for word in own if not word.startswith("-")]
        return super().parse_args(ctx, [*options, *(named or ([""] if step else [])), *step])


@dataclass(frozen=True, slots=True)
class Reviewed:
    """The session under review and the log that keeps it."""

    log: SessionLog
    session: Session

    def record(self, bodies: Iterable[ev.Body]) -> None:
        """Append the steps, all or none, and say how the count stands.

        Raises CompanionError if there is none or the session can't take one.
        """
        steps = tuple(bodies)
        if not steps:
            raise CompanionError("There is nothing left to do here.", safe="Nothing was changed.")
        click.echo(count_line(append_all_now(self.log, closed_only(self.session), steps)))


@click.group(cls=ReviewGroup, invoke_without_command=True)
@click.argument("session", required=False)
@click.option("--list", "only_list", is_flag=True, help="Print the list and ask nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print the session as one JSON object.")
@click.pass_context
def review(ctx: click.Context, *, session: str | None, only_list: bool, as_json: bool) -> None:
    """Review the marks of a lesson, least certain first.

    SESSION is a class group or the beginning of a session's name; without it, it is the newest lesson that
    waits for its review. Alone, it takes single keys in a terminal and prints the list elsewhere. Each step
    is also a subcommand, e.g. `companion review drop m7`.
    """
    home = ctx.find_object(Home)
    assert home is not None
    log = ctx.with_resource(open_log(home.log))
    looked_at = session and (only_list or as_json)
    found = named_session(log, session) if looked_at else reviewed_session(log, session)
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
@click.argument("items", nargs=-1, required=True)
@click.option("--reason", default="", help="Why, for the log.")
@click.pass_obj
def drop(reviewed: Reviewed, items: tuple[str, ...], reason: str) -> None:
    """Drop marks (m7), or throw individual notes (n12) away."""
    notes = {note.id for note in reviewed.session.notes}
    reviewed.record(ev.NoteDropped(item) if item in notes else ev.MarkDropped(item, reason) for item in items)


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
    changed = ev.MarkChanged(mark, Kind(kind) if kind else None, phase, scope, routine)
    if changed == ev.MarkChanged(mark):
        raise CompanionError(
            f"Nothing is said to change about {mark}.",
            safe="Nothing was changed.",
            remedy="Say it with --kind, --phase, --scope or --routine.",
        )
    reviewed.record([changed])


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
@click.option("--at-s", type=Seconds(), help="When, in seconds since the session opened.")
@click.pass_obj
def add(
    reviewed: Reviewed, kind: str, *, phase: str, scope: str, routine: str | None, at_s: float | None
) -> None:
    """Add a mark that was missed, in any phase."""
    at_ms = None if at_s is None else round(at_s * 1000)
    length_ms = reviewed.session.closed_ms or reviewed.session.last_ms
    if at_ms is not None and at_ms > length_ms:
        raise CompanionError(
            f"The lesson took {minute(length_ms)} minutes, and {at_s:g} s is after its end.",
            safe="Nothing was changed.",
            remedy=f"Say a time up to {length_ms // 1000} s, or leave it out.",
        )
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
@click.argument("note", required=False)
@click.option("--child", required=True, help="Initials or a seat number, never a name.")
@click.option(
    "--about",
    type=click.Choice([kind.value for kind in NoteKind]),
    help="What it is about, where that is not what the note was begun with.",
)
@click.option("--line", default="", help="What happened, in a line.")
@click.option("--family", nargs=3, metavar="BY HOW WHEN", help="Who will contact the family, how and when.")
@click.pass_obj
def note(
    reviewed: Reviewed,
    note: str | None,
    *,
    child: str,
    about: str | None,
    line: str,
    family: tuple[str, str, str] | None,
) -> None:
    """Complete the individual note NOTE, or without NOTE begin one; it never moves the count."""
    session, contact = reviewed.session, FamilyContact(*family) if family else None
    if note is None:
        kind, note = NoteKind(about or NoteKind.OTHER), f"n{session.last_seq + 1}"
        reviewed.record(
            [
                ev.NoteOpened(kind, session.last_ms, Source.REVIEW),
                ev.NoteCompleted(note, child, kind, line, contact),
            ]
        )
        return
    found = session.note(note)
    kind = NoteKind(about) if about else found.kind if found else NoteKind.OTHER
    reviewed.record([ev.NoteCompleted(note, child, kind, line, contact)])


@review.command()
@click.pass_obj
def back(reviewed: Reviewed) -> None:
    """Take back the newest step of the review."""
    if not reviewed.session.steps:
        raise CompanionError("There is no step of the review to take back.", safe="Nothing was changed.")
    reviewed.record([ev.EventTakenBack(reviewed.session.steps[-1])])
