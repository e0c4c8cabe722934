"""Copies of the session log beside it: backups that are made by themselves, and damaged logs set aside."""

import errno
import os
import shutil
import sqlite3
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _, many
from companion.log.damage import Damage, damages
from companion.log.plain_errors import SQLITE_ERRORS, LogError, words_of
from companion.log.whereabouts import VIEW, WAITING, beside
from companion.paths import private_folder, sqlite_uri

BACKUPS, SET_ASIDE = "backups", "set-aside"
"""Folders beside the log."""
KEPT = 10
"""So many sound backups are kept, and as many of a damaged log."""
DAMAGED = "damaged"
STAMP = "%Y-%m-%dT%H%M%S"
BESIDE = ("", WAITING, VIEW, "-journal")
"""What belongs to an SQLite file."""


@dataclass(frozen=True, slots=True, order=True)
class Backup:
    """A copy of the whole log, checked after it was made."""

    at: str
    """When it was made, as in 2026-09-14T153000."""
    reason: str
    """As in `day`, `upgrade`, `purge`."""
    damaged: bool
    """Whether the log was damaged already."""
    path: Path


def back_up(
    log: Path, reason: str, at: datetime, look: Callable[[Path], Collection[Damage]] = damages
) -> Backup:
    """Copy the log at `log` to a new backup beside it, also while a lesson is going on, and check the copy.

    look: returns what is wrong with the copy. Older backups beyond `KEPT` go.

    Raises CompanionError if the copy can't be made; nothing was changed then.
    """
    folder = private_folder(log.parent / BACKUPS)
    fresh = folder / f"{at:{STAMP}}.new"
    with _writable(folder):
        for torn in folder.glob("*.new*"):
            torn.unlink(missing_ok=True)
        copy_log(log, fresh)
        damaged = bool(look(fresh))
        path = folder / f"{at:{STAMP}}-{reason}{f'-{DAMAGED}' if damaged else ''}.db"
        fresh.replace(path)
        for old in [one for one in backups(log) if one.damaged == damaged][KEPT:]:
            remove(old.path)
    return Backup(f"{at:{STAMP}}", reason, damaged, path)


def back_up_day(
    log: Path, at: datetime, look: Callable[[Path], Collection[Damage]] = damages
) -> Backup | None:
    """Back the log up as a day has left it, in place of earlier backups of that day; `look` as for `back_up`.

    Return None if nothing has happened since the last one. Raises CompanionError as `back_up` does.
    """
    if not log.exists() or not (size := _extent(log)):
        return None
    newest = next(iter(backups(log)), None)
    if newest and _extent(newest.path) == size:
        return None
    made = back_up(log, "day", at, look)
    with _writable(made.path.parent):
        for old in backups(log):
            same = (old.reason, old.damaged, old.at[:10]) == ("day", made.damaged, made.at[:10])
            if old < made and same:
                remove(old.path)
    return made


def _extent(log: Path) -> tuple[int, ...]:
    """Return how much is in a log: other numbers after each change; () for one that is new or unreadable."""
    try:
        with closing(_existing(log)) as db:
            ask = "SELECT (SELECT count(*) FROM event), (SELECT count(*) FROM forgotten)"
            counts = db.execute(ask).fetchone()
    except SQLITE_ERRORS:
        return ()
    return tuple(counts) if any(counts) else ()


def backups(log: Path) -> list[Backup]:
    """Return the backups beside the log at `log`, newest first."""
    found = []
    for path in (log.parent / BACKUPS).glob("*T*-*.db"):
        at, _, rest = path.stem.rpartition("T")
        time, reason, *damaged = rest.split("-")
        found.append(Backup(f"{at}T{time}", reason, damaged == [DAMAGED], path))
    return sorted(found, reverse=True)


def newest_good(log: Path) -> Backup | None:
    """Return the newest backup that is sound now, whatever it was when it was made."""
    for one in backups(log):
        with suppress(LogError):
            if not one.damaged and not damages(one.path):
                return one
    return None


def copy_log(log: Path, target: Path) -> None:
    """Copy the log to the new file `target` by SQLite's online backup. Private to the user.

    Raises CompanionError if there is such a file or it can't be written.
    """
    made = False
    try:
        os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        made = True
        with closing(_existing(log)) as source, closing(sqlite3.connect(target)) as copy:
            source.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
    except FileExistsError as error:
        raise CompanionError(
            _("There is a file {file} already.", file=target),
            safe=_("It was not changed."),
            remedy=_("Name another one."),
        ) from error
    except (OSError, *SQLITE_ERRORS) as error:
        if made:
            remove(target)
        raise CompanionError(
            _("The backup can't be written to {file} ({error}).", file=target, error=words_of(error)),
            safe=_("The session log was not changed."),
            remedy=_("Free the disk or name another place."),
        ) from error


@contextmanager
def _writable(folder: Path) -> Iterator[None]:
    """Tell in a sentence what the disk does not let us do with the files in `folder`."""
    try:
        yield
    except OSError as error:
        raise CompanionError(
            _("The backups in {folder} can't be written ({error}).", folder=folder, error=words_of(error)),
            safe=_("The session log was not changed."),
            remedy=_("Free or unlock the disk."),
        ) from error


def _existing(log: Path) -> sqlite3.Connection:
    return sqlite3.connect(sqlite_uri(log, "rw"), uri=True)


def set_aside(log: Path, at: datetime) -> Path:
    """Move the log, and what SQLite keeps beside it, out of the way untouched; return where it is now.

    Raises CompanionError if the disk does not let us.
    """
    folder = private_folder(log.parent / SET_ASIDE)
    target = folder / f"{at:{STAMP}}.db"
    try:
        if target.exists():
            raise FileExistsError(errno.EEXIST, "it is there already")
        # The log itself goes last: until then nothing takes its place.
        for end in reversed(BESIDE):
            with suppress(FileNotFoundError):
                beside(log, end).rename(beside(target, end))
    except OSError as error:
        raise CompanionError(
            _(
                "The damaged session log {log} can't be set aside ({error}).",
                log=log,
                error=words_of(error),
            ),
            safe=_("Nothing in it was changed."),
            remedy=_("Free or unlock the disk, or end other programs that use the file."),
        ) from error
    return target


def waiting(log: Path) -> list[Path]:
    """Return the damaged logs that were set aside and not taken up yet, oldest first."""
    return sorted((log.parent / SET_ASIDE).glob("*T??????.db"))


def all_set_aside(log: Path) -> list[Path]:
    """Return all damaged logs that were set aside, also those that were salvaged."""
    return sorted((log.parent / SET_ASIDE).glob("*.db"))


def salvaged(damaged: Path) -> Path:
    """Mark a damaged log as taken up and return where it is now; it stays as it is."""
    target = damaged.with_name(f"{damaged.stem}-salvaged.db")
    for end in BESIDE:
        with suppress(FileNotFoundError):
            beside(damaged, end).rename(beside(target, end))
    return target


def put_in_place(backup: Path, log: Path) -> None:
    """Copy a backup to where the log was; there must be none. Raises CompanionError as `copy_log` does."""
    fresh = log.with_name(f"{log.name}.restored")
    fresh.unlink(missing_ok=True)
    copy_log(backup, fresh)
    fresh.rename(log)


def remove(path: Path) -> None:
    """Remove a copy and what SQLite keeps beside it."""
    for end in BESIDE:
        beside(path, end).unlink(missing_ok=True)


def damage_words(log: Path, found: Sequence[Damage]) -> str:
    """Return what is wrong with the log, in a sentence or two for people."""
    whole = [damage.words for damage in found if not damage.session]
    if whole:
        return " ".join([_("The session log {log} is damaged.", log=log), *whole])
    sessions = "; ".join(f"{damage.session}: {damage.words}" for damage in found[:3])
    if len(found) <= 3:
        return _("Some sessions in the log are not as they were recorded ({sessions}).", sessions=sessions)
    return many(
        "Some sessions in the log are not as they were recorded ({sessions} and {count} more).",
        "Some sessions in the log are not as they were recorded ({sessions} and {count} more).",
        len(found) - 3,
        sessions=sessions,
    )


def working_copy(damaged: Path, folder: Path) -> Path:
    """Copy a damaged log and what lies beside it into `folder`, to be read there; return the copy."""
    for end in BESIDE:
        source = beside(damaged, end)
        if source.exists():
            shutil.copyfile(source, folder / f"copy.db{end}")
    return folder / "copy.db"
