"""`companion forget`: what is about children, or was heard, goes for good."""

import shutil
from datetime import datetime
from pathlib import Path

import click

from companion.commands.given import GivenUnseen
from companion.errors import CompanionError
from companion.language import _, later, many
from companion.lesson.child_code import CODE_WORDS, is_child_code
from companion.live.forgetting import Forgetting, finish, forget_due, forget_for_good, held_words
from companion.log.forget import CHILD, one_child, word_for
from companion.log.store import open_log
from companion.paths import Home
from companion.settings.settings import load_settings


@click.command()
@click.option(
    "--child",
    metavar="INITIALS",
    type=GivenUnseen(later("Initials or seat number")),
    help="All notes about a child, and its initials everywhere. - asks for them, so that no other user of "
    "the computer can read them meanwhile.",
)
@click.option("--clips", is_flag=True, help="All sound of phrases that was kept.")
@click.option("--voice", is_flag=True, help="Everything that was learnt of the teacher's voice.")
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.pass_obj
def forget(home: Home, *, child: str | None, clips: bool, voice: bool, yes: bool) -> None:
    """Forget for good what was kept long enough; or at once what you name.

    Without an option: individual notes and sessions whose time is over by [keeping] in the settings. The
    companion does the same by itself each day. What is forgotten is taken out of the log and of its own
    backups, and every file of the companion is searched for it afterwards. Copies that you made elsewhere
    are yours to delete.
    """
    now = datetime.now().astimezone()
    if child is None and not (clips or voice):
        settings = load_settings(home.settings)
        open_log(home.log).close()
        finished = finish(home)
        _tell(
            forget_due(home, settings, now),
            _("What was taken out before is gone from the file now.") if finished else "",
        )
    if child is not None:
        _forget_child(home, child, now, yes=yes)
    for wanted, folder, what in (
        (clips, home.clips, _("sound on disk")),
        (voice, home.voice, _("learnt of the voice")),
    ):
        if wanted:
            _remove(folder, what, yes=yes)


def _forget_child(home: Home, child: str, now: datetime, *, yes: bool) -> None:
    if not is_child_code(child):
        raise CompanionError(
            _("A child is {codes}, and '{child}' is neither.", codes=_(CODE_WORDS), child=child),
            safe=_("Nothing was changed."),
        )
    if not yes:
        click.confirm(
            _("Forget all notes about {child}, and {child} wherever else it stands, for good?", child=child),
            abort=True,
        )
    _tell(forget_for_good(home, one_child(child), CHILD, now, word_for(child)), "")


def _tell(outcome: Forgetting, before: str) -> None:
    forgotten = _("Forgotten for good: {what}.", what=outcome.words)
    click.echo(f"{before} {forgotten}" if before else forgotten)
    tell_held(outcome)


def tell_held(outcome: Forgetting) -> None:
    """Raise CompanionError if what was forgotten stands still in a file."""
    if outcome.held:
        raise CompanionError(
            held_words(outcome.held),
            safe=_("It is gone from the log."),
            remedy=_(
                "Delete these files when you need them no more; damaged logs after: companion log salvage"
            ),
        )


def _remove(folder: Path, what: str, *, yes: bool) -> None:
    files = [path for path in folder.rglob("*") if path.is_file()] if folder.is_dir() else []
    if files and not yes:
        click.confirm(
            many(
                "Remove {count} file ({what}) for good?",
                "Remove {count} files ({what}) for good?",
                len(files),
                what=what,
            ),
            abort=True,
        )
    try:
        if folder.is_dir():
            shutil.rmtree(folder)
    except OSError as error:
        raise CompanionError(
            _("Not all of {folder} could be removed ({strerror}).", folder=folder, strerror=error.strerror),
            safe=_("Nothing else was changed."),
            remedy=_("End the companion, which may be using it, and repeat."),
        ) from error
    click.echo(
        many(
            "Forgotten for good: {count} file ({what}).",
            "Forgotten for good: {count} files ({what}).",
            len(files),
            what=what,
        )
    )
