"""`companion review`: keep, change, drop or add marks before the reflection."""

import json
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

import click
from rich.console import Console

from companion.commands.append import append_now
from companion.commands.child_codes import WITH_CODES, refuse_codes_in
from companion.commands.chosen import closed_only, named_session, reviewed_session
from companion.commands.given import GivenSeconds, GivenUnseen
from companion.commands.review_keys import review_by_keys
from companion.commands.session_json import session_json
from companion.commands.shown import count_line, print_review_list
from companion.errors import CompanionError
from companion.language import _, later
from companion.lesson import event as ev
from companion.lesson import review as steps
from companion.lesson.counting import minute
from companion.lesson.mark import WHOLE_CLASS, FamilyContact, Kind, NoteKind, Source
from companion.lesson.session import Session
from companion.log.store import SessionLog, open_log
from companion.paths import Home

KIND = click.Choice([kind.value for kind in Kind])
SCOPE_HELP = later("'class', 'part of the class', or a table: 'table four'.")


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
        """Append one step, whole or not at all, and say how the count stands.

        Raises CompanionError if there is nothing in it or the session can't take it.
        """
        step = tuple(bodies)
        if not step:
            raise CompanionError(_("There is nothing left to do here."), safe=_("Nothing was changed."))
        click.echo(count_line(append_now(self.log, closed_only(self.session), *step)))


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
    found = (named_session if looked_at else reviewed_session)(log, session or None)
    ctx.obj = Reviewed(log, found)
    if ctx.invoked_subcommand is not None:
        return
    if as_json:
        click.echo(json.dumps(session_json(found), ensure_ascii=False))
        return
    console = Console(highlight=False, markup=False)
    if not only_list and sys.stdin.isatty() and not found.settled:
        found = review_by_keys(console, found, lambda at, bodies: append_now(log, at, *bodies))
    print_review_list(console, found)


@review.command()
@click.argument("marks", nargs=-1, required=True)
@click.pass_obj
def keep(reviewed: Reviewed, marks: tuple[str, ...]) -> None:
    """Accept marks as they are; `all` accepts every one that is left."""
    session = reviewed.session
    reviewed.record(steps.keep_all(session) if marks == ("all",) else steps.keep(session, marks))


@review.command()
@click.argument("items", nargs=-1, required=True)
@click.option("--reason", default="", help="Why, for the log.")
@click.pass_obj
def drop(reviewed: Reviewed, items: tuple[str, ...], reason: str) -> None:
    """Drop marks (m7), or throw individual notes (n12) away."""
    reviewed.record(steps.drop(reviewed.session, items, reason))


@review.command()
@click.argument("marks", nargs=-1, required=True)
@click.pass_obj
def restore(reviewed: Reviewed, marks: tuple[str, ...]) -> None:
    """Take dropped or undone marks back in."""
    reviewed.record(steps.restore(reviewed.session, marks))


@review.command()
@click.argument("mark")
@click.option("--kind", type=KIND, help="What the mark says of the class.")
@click.option("--phase", help="The phase that the mark belongs to.")
@click.option("--scope", help=SCOPE_HELP)
@click.option("--routine", help="What the mark is for; '' takes it away.")
@WITH_CODES
@click.pass_obj
def change(
    reviewed: Reviewed,
    mark: str,
    *,
    kind: str | None,
    phase: str | None,
    scope: str | None,
    routine: str | None,
    with_codes: bool,
) -> None:
    """Change a mark's kind, phase, scope or routine."""
    if kind is None and phase is None and scope is None and routine is None:
        raise CompanionError(
            _("Nothing is said to change about {mark}.", mark=mark),
            safe=_("Nothing was changed."),
            remedy=_("Say it with --kind, --phase, --scope or --routine."),
        )
    if not with_codes:
        refuse_codes_in(reviewed.session, routine or "", "Nothing was changed.")
    changed = steps.change(
        reviewed.session,
        mark,
        kind=Kind(kind) if kind else None,
        phase=phase,
        scope=scope,
        routine=routine,
    )
    reviewed.record(changed)


@review.command()
@click.argument("marks", nargs=-1, required=True)
@click.pass_obj
def earlier(reviewed: Reviewed, marks: tuple[str, ...]) -> None:
    """Move marks that fell just after a phase change to the phase before."""
    reviewed.record(steps.earlier(reviewed.session, marks))


@review.command()
@click.argument("kind", type=KIND)
@click.option("--phase", required=True, help="The phase that the mark belongs to.")
@click.option("--scope", default=WHOLE_CLASS, help=SCOPE_HELP)
@click.option("--routine", help="What the mark is for.")
@click.option("--at-s", type=GivenSeconds(), help="When, in seconds since the session opened.")
@click.option("--why", default="", help="Why it comes late; the class is told.")
@WITH_CODES
@click.pass_obj
def add(
    reviewed: Reviewed,
    kind: str,
    *,
    phase: str,
    scope: str,
    routine: str | None,
    at_s: float | None,
    why: str,
    with_codes: bool,
) -> None:
    """Add a mark that was missed, in any phase."""
    if not with_codes:
        refuse_codes_in(reviewed.session, f"{routine or ''} {why}", "Nothing was added.")
    at_ms = None if at_s is None else round(at_s * 1000)
    length_ms = reviewed.session.closed_ms or reviewed.session.last_ms
    if at_ms is not None and at_ms > length_ms:
        raise CompanionError(
            _(
                "The lesson took {minutes} minutes, and {seconds} s is after its end.",
                minutes=minute(length_ms),
                seconds=f"{at_s:g}",
            ),
            safe=_("Nothing was changed."),
            remedy=_("Say a time up to {seconds} s, or leave it out.", seconds=length_ms // 1000),
        )
    reviewed.record(steps.add(Kind(kind), phase, at_ms=at_ms, scope=scope, routine=routine, why=why))


@review.command()
@click.argument("near_misses", nargs=-1, required=True)
@click.option("--kind", type=KIND, help="Where the near miss does not say it.")
@click.option("--phase", help="Another phase than the one it was heard in.")
@click.pass_obj
def confirm(reviewed: Reviewed, near_misses: tuple[str, ...], kind: str | None, phase: str | None) -> None:
    """Say that near misses were marks."""
    reviewed.record(steps.confirm(reviewed.session, near_misses, Kind(kind) if kind else None, phase))


@review.command()
@click.argument("near_misses", nargs=-1, required=True)
@click.pass_obj
def dismiss(reviewed: Reviewed, near_misses: tuple[str, ...]) -> None:
    """Say that near misses were nothing."""
    reviewed.record(steps.dismiss(reviewed.session, near_misses))


@review.command()
@click.argument("note", required=False)
@click.option(
    "--child",
    required=True,
    type=GivenUnseen(later("Initials or seat number")),
    help="Initials or a seat number, never a name. - asks for it, as for the line, so that no other user of "
    "the computer can read it meanwhile.",
)
@click.option(
    "--about",
    type=click.Choice([kind.value for kind in NoteKind]),
    help="What it is about, where that is not what the note was begun with.",
)
@click.option(
    "--line", default="", type=GivenUnseen(later("What happened")), help="What happened, in a line."
)
@click.option(
    "--family",
    nargs=3,
    metavar="BY HOW WHEN",
    help="Who will contact the family, how, and by which day, as in 2026-09-14, or when in words.",
)
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
    session, contact = reviewed.session, _contact(*family) if family else None
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


def _contact(by: str, how: str, when: str) -> FamilyContact:
    """Return a family contact, promised for a day where `when` is one.

    Raises CompanionError if one of the three is empty.
    """
    if not all(part.strip() for part in (by, how, when)):
        raise CompanionError(
            _("The family contact is not complete."),
            safe=_("Nothing was changed."),
            remedy=_("Say by whom, how and by when, or leave --family out."),
        )
    try:
        return FamilyContact(by, how, due=date.fromisoformat(when))
    except ValueError:
        return FamilyContact(by, how, when)


@review.command()
@click.pass_obj
def back(reviewed: Reviewed) -> None:
    """Take back the newest step of the review, with all that it did."""
    taken_back = steps.undo(reviewed.session)
    if not taken_back:
        raise CompanionError(
            _("There is no step of the review to take back."), safe=_("Nothing was changed.")
        )
    reviewed.record(taken_back)
