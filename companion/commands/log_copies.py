"""`companion log backups`, `restore`, `verify`, `salvage`: the log's copies, and a way out of damage."""

from datetime import datetime
from pathlib import Path

import click

from companion.background.client import is_running
from companion.commands.terminal import wide
from companion.errors import CompanionError
from companion.language import _, decimal, many
from companion.lesson.day_words import date_words
from companion.log import salvage as saving
from companion.log.copies import (
    Backup,
    all_set_aside,
    backups,
    damage_words,
    newest_good,
    salvaged,
    set_aside,
    waiting,
)
from companion.log.damage import damages
from companion.log.salvage import Salvage
from companion.log.store import open_log
from companion.paths import Home

FILE = click.Path(path_type=Path, dir_okay=False, exists=True)


@click.command("backups")
@click.pass_obj
def list_backups(home: Home) -> None:
    """List the backups that were made by themselves, newest first, and damaged logs that were set aside."""
    found = backups(home.log)
    for one in found:
        click.echo(_line(one))
    for path in all_set_aside(home.log):
        click.echo(f"{path.stem}  {_('damaged log, set aside untouched')}  {path}")
    if not found:
        click.echo(_("There is no backup yet. One is made after each school day while the companion runs."))


@click.command()
@click.argument("file", type=FILE, required=False)
@click.pass_obj
def verify(home: Home, file: Path | None) -> None:
    """Check that the log (or FILE, a backup) is as it was recorded: pages, numbers, events, seals."""
    path = file or home.log
    if not path.exists():
        raise CompanionError(
            _("There is no log {path} yet.", path=path), remedy=_("Try one with: companion demo")
        )
    found = damages(path)
    if not found:
        click.echo(_("{path} is as it was recorded.", path=path))
        return
    for damage in found:
        click.echo(f"{damage.session or path.name}: {damage.words}")
    raise CompanionError(damage_words(path, found), safe=_("Nothing was changed."), remedy=_way_out(home))


@click.command()
@click.argument("file", type=FILE, required=False)
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.pass_obj
def restore(home: Home, file: Path | None, *, yes: bool) -> None:
    """Put a backup (FILE, or the newest sound one) in the place of the log.

    The log that is there now is set aside untouched, and all that can be read of it and that the backup has
    not is taken over.
    """
    good = file or (newest.path if (newest := newest_good(home.log)) else None)
    if good is None:
        raise CompanionError(
            _("There is no sound backup."),
            safe=_("Nothing was changed."),
            remedy=_("Save what is readable: companion log salvage"),
        )
    if found := damages(good):
        raise CompanionError(
            damage_words(good, found), safe=_("Nothing was changed."), remedy=_("Name another backup.")
        )
    _refuse_beside_the_companion(home)
    if not yes:
        click.confirm(_("Put {good} in the place of the log?", good=good), abort=True)
    saved = saving.restore(good, home.log, datetime.now().astimezone())
    for damaged in waiting(home.log):
        with open_log(home.log) as log:
            _tell(saving.salvage(damaged, log))
        salvaged(damaged)
    click.echo(_("The log is that of {name} again.", name=good.name))
    if saved is not None:
        _tell(saved)


@click.command("salvage")
@click.argument("file", type=FILE, required=False)
@click.pass_obj
def salvage(home: Home, file: Path | None) -> None:
    """Take everything that can be read of a damaged log into the log, and count it.

    FILE is the damaged log; without it, it is the one that was set aside, or the log itself, which is set
    aside first. The damaged file stays as it is.
    """
    damaged = [file] if file else waiting(home.log)
    if not damaged:
        if not damages(home.log):
            raise CompanionError(_("No log here is damaged."), safe=_("Nothing was changed."))
        _refuse_beside_the_companion(home)
        damaged = [set_aside(home.log, datetime.now().astimezone())]
    for path in damaged:
        with open_log(home.log) as log:
            saved = saving.salvage(path, log)
        if file and not saved.events:
            raise CompanionError(
                _("No event could be read from {path}.", path=path),
                safe=_("Nothing was changed, and the file is as it was."),
                remedy=_("Look whether it is a session log at all."),
            )
        kept = path if file else salvaged(path)
        _tell(saved)
        click.echo(_("The damaged log stays as it is: {kept}. Delete it when you miss nothing.", kept=kept))


def _tell(saved: Salvage) -> None:
    click.echo(
        _(
            "{events} could be read; {new} taken over, {longer} brought up to date, {known} known already.",
            events=many("{count} event", "{count} events", saved.events),
            new=many("{count} session", "{count} sessions", saved.new),
            longer=saved.longer,
            known=saved.known,
        )
    )
    if saved.lost:
        click.echo(
            many(
                "{count} event known to have been there could not be read.",
                "{count} events known to have been there could not be read.",
                saved.lost,
            )
        )
    if saved.differing:
        click.echo(
            _("Left as the log has them, since they differ: {sessions}.", sessions=", ".join(saved.differing))
        )


def _line(backup: Backup) -> str:
    day = datetime.strptime(backup.at, "%Y-%m-%dT%H%M%S").astimezone()
    size = decimal(backup.path.stat().st_size / 1e6, 1)
    damaged = f"  {_('of a log that was damaged already')}" if backup.damaged else ""
    reason = wide(_(backup.reason), 8)
    return f"{date_words(day)}, {day:%H:%M:%S}  {reason} {size:>6} MB  {backup.path}{damaged}"


def _way_out(home: Home) -> str:
    good = newest_good(home.log)
    if good is None:
        return _("Save what is readable: companion log salvage.")
    offer = _("Put the backup of {at} in its place: companion log restore.", at=good.at)
    return f"{offer} {_('Or save what is readable: companion log salvage')}"


def _refuse_beside_the_companion(home: Home) -> None:
    if is_running(home):
        raise CompanionError(
            _("The companion is running and writes into the log."),
            safe=_("Nothing was changed."),
            remedy=_("End it first: companion stop"),
        )
