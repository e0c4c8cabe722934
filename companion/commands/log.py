"""`companion log`: the session log as a whole: backup, export, merge, purge."""

from datetime import datetime
from pathlib import Path

import click

from companion.live.clip_folder import KeptClips
from companion.log.exchange import backup, export_lines, merge
from companion.log.purge import purge, sessions_before
from companion.log.store import open_log
from companion.paths import Home

EXPORT_CAUTION = (
    "What leaves this computer may become a record that your school's policy and the law of your place"
    " have rules for. Keep it as private as the log itself."
)


@click.group()
def log() -> None:
    """Back up, export, merge and purge the session log."""


@log.command("backup")
@click.argument("target", type=click.Path(path_type=Path, dir_okay=False))
@click.pass_obj
def backup_command(home: Home, target: Path) -> None:
    """Copy the log to a new file, also while a lesson is going on."""
    with open_log(home.log) as opened:
        backup(opened, target)
    click.echo(f"The backup is {target}. {EXPORT_CAUTION}")


@log.command()
@click.argument("session", required=False)
@click.pass_obj
def export(home: Home, session: str | None) -> None:
    """Print the events of a session (the newest one) as JSON, one a line."""
    click.echo(EXPORT_CAUTION, err=True)
    with open_log(home.log) as opened:
        for line in export_lines(opened, opened.find(session).id):
            click.echo(line)


@log.command("merge")
@click.argument("other", type=click.Path(path_type=Path, dir_okay=False))
@click.pass_obj
def merge_command(home: Home, other: Path) -> None:
    """Take over what another computer's log knows more."""
    with open_log(home.log) as opened:
        new, longer = merge(opened, other)
    click.echo(f"{new} new sessions were taken over, {longer} were brought up to date.")


@log.command("purge")
@click.argument("sessions", nargs=-1)
@click.option("--class-group", help="All sessions of this class group.")
@click.option("--before", type=click.DateTime(["%Y-%m-%d"]), help="All sessions before this day.")
@click.option("--all", "everything", is_flag=True, help="All sessions.")
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
    """Delete sessions for good, with all marks and notes in them. Backups are yours to delete."""
    with open_log(home.log) as opened:
        doomed = {opened.find(session).id for session in sessions}
        if class_group is not None or everything:
            doomed |= {summary.session for summary in opened.summaries(class_group)}
        if before is not None:
            doomed |= set(sessions_before(opened, before.astimezone()))
        if not doomed:
            click.echo("There is nothing to purge.")
            return
        if not yes:
            click.confirm(f"Delete {len(doomed)} sessions for good?", abort=True)
        count = purge(opened, sorted(doomed), at=datetime.now().astimezone())
    kept = KeptClips(home.clips, None)
    for session in doomed:
        kept.forget(session)
    click.echo(f"{count} sessions were deleted for good.")
