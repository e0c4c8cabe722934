"""Whether the files of a log that is open are still at their place."""

from dataclasses import dataclass
from pathlib import Path
from typing import Self

from companion.language import _
from companion.log.plain_errors import WAY_OUT, LogError

WAITING, VIEW = "-wal", "-shm"
"""What SQLite keeps beside a log that is open: its newest pages, and the view of them that programs share."""


class LogMovedError(LogError):
    """What is open is no longer what is at its place: nothing written into it would be found."""

    def __init__(self, path: Path, *, beside: bool, overwritten: bool = False) -> None:
        """beside: the log itself is where it was, but not all that belongs to it."""
        there, remedy = path.exists(), ""
        if overwritten and not is_empty(path):
            what = _("Something else was copied into the file of the session log {path}.", path=path)
        elif beside:
            what = _("A file beside the session log {path}, which belongs to it, was taken away.", path=path)
        elif is_empty(path):
            what, remedy = _("The session log {path} was emptied.", path=path), _(WAY_OUT)
        elif there:
            what = _("The session log {path} was put in another's place.", path=path)
        else:
            what = _("The session log {path} is gone.", path=path)
            remedy = _("Put it back, or plug in the disk that it lies on.")
        super().__init__(
            what,
            safe=_("What happens in the lesson is kept meanwhile."),
            remedy=remedy,
        )


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """The files of which a log consisted when it was opened, by what the system knows them by."""

    log: Path
    files: dict[Path, tuple[int, int]]

    @classmethod
    def of(cls, log: Path) -> Self:
        """Return the whereabouts of a log that is open."""
        found = {path: _file_at(path) for path in (beside(log, end) for end in ("", WAITING, VIEW))}
        return cls(log, {path: file for path, file in found.items() if file})

    @property
    def left(self) -> bool:
        """Whether one of them was deleted, moved away or replaced since, or the log was emptied."""
        return is_empty(self.log) or any(_file_at(path) != file for path, file in self.files.items())

    @property
    def holds_log(self) -> bool:
        """Whether the log itself is where it was, and is no empty file by now."""
        return _file_at(self.log) == self.files.get(self.log) is not None and not is_empty(self.log)

    def error(self, *, overwritten: bool = False) -> LogMovedError:
        """Return what there is to say of it. overwritten: the file has other content."""
        return LogMovedError(self.log, beside=self.holds_log, overwritten=overwritten)


def is_empty(log: Path) -> bool:
    """Whether there is a file without a byte, which no log is: what is written behind that is lost."""
    return log.exists() and not log.stat().st_size


def beside(log: Path, end: str) -> Path:
    """Return where SQLite keeps what ends in `end`."""
    return log.with_name(log.name + end)


def _file_at(path: Path) -> tuple[int, int] | None:
    """Return which file is at `path` just now; None if there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino
