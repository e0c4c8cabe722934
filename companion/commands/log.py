"""`companion log`: the session log as a whole: backup, export, merge, purge."""

from collections.abc import Iterable
from datetime import datetime
from itertools import groupby
from pathlib import Path

import click

from companion.commands import log_copies
from companion.commands.chosen import named_session
from companion.commands.forget import tell_held
from companion.commands.given import GivenDate
from companion.errors import CompanionError
from companion.language import _, later, many
from companion.lesson.day_words import date_words
from companion.lesson.session import Session
from companion.live.forgetting import forget_for_good
from companion.log.copies import copy_log, damage_words
from companion.log.damage import damages
from companion.log.exchange import export_lines, merge
from companion.log.forget import SESSIONS, whole_sessions
from companion.log.rebuild import differing
from companion.log.store import SessionLog, open_log
from companion.paths import Home

EXPORT_CAUTION = later(
    "What leaves this computer may become a record that your school's policy and the law of your place"
    " have rules for. Keep it as private as the log itself."
)


@click.group()
def log() -> None:
    """Back up, check, restore, export, merge, sum up and purge the session log."""


for command in (log_copies.list_backups, log_copies.restore, log_copies.verify, log_copies.salvage):
    log.add_command(command)


@log.command("backup")
@click.argument("target", type=click.Path(path_type=Path, dir_okay=False))
@click.pass_obj
def backup_command(home: Home, target: Path) -> None:
    """Copy the log to a new file, also while a lesson is going on."""
    with open_log(home.log):
        copy_log(home.log, target)
    found = damages(target)
    if found:
        click.echo(f"{damage_words(home.log, found)} {_('The backup holds that damage too.')}", err=True)
    click.echo(f"{_('The backup is {target}.', target=target)} {_(EXPORT_CAUTION)}")


@log.command()
@click.argument("session", required=False)
@click.pass_obj
def export(home: Home, session: str | None) -> None:
    """Print the events of a session as JSON, one a line.

    SESSION is a class group or the beginning of a session's name; without it, it is the newest one.
    """
    click.echo(_(EXPORT_CAUTION), err=True)
    with open_log(home.log) as opened:
        for line in export_lines(opened, named_session(opened, session).id):
            click.echo(line)


@log.command("merge")
@click.argument("other", type=click.Path(path_type=Path, dir_okay=False))
@click.pass_obj
def merge_command(home: Home, other: Path) -> None:
    """Take over what OTHER, another computer's sessions.db, knows more. OTHER is only read."""
    with open_log(home.log) as opened:
        new, longer = merge(opened, other)
    if not new and not longer:
        click.echo(_("{other} knows nothing that is not in your log already.", other=other))
        return
    click.echo(
        many(
            "{count} new session taken over, {longer} brought up to date.",
            "{count} new sessions taken over, {longer} brought up to date.",
            new,
            longer=longer,
        )
    )


@log.command("purge")
@click.argument("sessions", nargs=-1)
@click.option("--class-group", help="Only sessions of this class group.")
@click.option("--before", type=GivenDate(), help="Only sessions before this day, as in 2026-09-14.")
@click.option("--all", "everything", is_flag=True, help="All sessions, where nothing else is said.")
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.pass_obj
def purge_command(
    home: Home,
    *,
    sessions: tuple[str, ...],
    class_group: str | None,
    before: datetime | None,
    everything: bool,
    yes: bool,
) -> None:
    """Delete sessions for good, with all marks and notes in them, also from the log's own backups.

    Say which: SESSIONS by the beginnings of their names, --class-group, --before, or --all. What is said
    together narrows: --class-group 4-Hazel --before 2026-09-14 deletes only what is both. All that would go
    is listed before anything does.
    """
    if not (sessions or class_group or before or everything):
        raise CompanionError(
            _("Nothing says which sessions should be deleted."),
            safe=_("Nothing was deleted."),
            remedy=_(
                "Say it with --class-group, --before 2026-09-14, sessions by name, or --all. What is "
                "said together narrows; all that would go is listed, and asked about, before "
                "anything does."
            ),
        )
    with open_log(home.log) as opened:
        named = {opened.find(session).id for session in sessions}
        doomed = [
            summary.session
            for summary in opened.summaries(class_group)
            if (not named or summary.session in named) and (before is None or summary.opened_at < before)
        ]
        if not doomed:
            raise CompanionError(
                _("No session is all of that."),
                safe=_("Nothing was deleted."),
                remedy=_("See what is there with: companion sessions"),
            )
        for line in _what_goes(opened, doomed):
            click.echo(line)
        if not yes:
            click.confirm(
                many("Delete {count} session for good?", "Delete {count} sessions for good?", len(doomed)),
                abort=True,
            )
    outcome = forget_for_good(home, whole_sessions(doomed), SESSIONS, datetime.now().astimezone())
    click.echo(
        many(
            "{count} session deleted for good.",
            "{count} sessions deleted for good.",
            outcome.counts[SESSIONS],
        )
    )
    tell_held(outcome)


def _what_goes(log: SessionLog, doomed: Iterable[str]) -> list[str]:
    """Return a line for each class group: how many sessions of it, from when to when, and what is in them."""
    found = sorted((log.session(session) for session in doomed), key=_group_and_time)
    return [
        _line(group, list(sessions)) for group, sessions in groupby(found, key=lambda one: one.class_group)
    ]


def _group_and_time(session: Session) -> tuple[str, datetime]:
    return session.class_group, session.opened_at


def _line(class_group: str, sessions: list[Session]) -> str:
    first, last = (date_words(session.opened_at.date()) for session in (sessions[0], sessions[-1]))
    parts = [
        many("{count} session", "{count} sessions", len(sessions)),
        first if first == last else _("{first} to {last}", first=first, last=last),
        many("{count} mark", "{count} marks", sum(len(session.marks) for session in sessions)),
        many("{count} note", "{count} notes", sum(len(session.notes) for session in sessions)),
    ]
    if any(not session.closed for session in sessions):
        parts.append(_("one of them still open"))
    return f"{class_group}: {', '.join(parts)}"


@log.command("rebuild")
@click.pass_obj
def rebuild_command(home: Home) -> None:
    """Sum up all lessons anew from their events, for history; say whether anything was summed up wrongly."""
    with open_log(home.log) as opened, opened.writing() as db:
        wrong = differing(db)
    if wrong:
        click.echo(
            _(
                "History was summed up anew; what had been summed up wrongly is put right ({tables}).",
                tables=", ".join(wrong),
            )
        )
    else:
        click.echo(_("History was summed up anew; nothing had been summed up wrongly."))
