"""A room puts its weeks into a folder that the school shares; nothing there is ever changed."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from ulid import ULID

from companion.errors import CompanionError
from companion.language import _
from companion.paths import Home, replace_file
from companion.school.engine import engine
from companion.school.layout import COLUMNS, LessonPhase
from companion.school.log_file import read_log
from companion.school.room import in_weeks, lesson_phases
from companion.school.store import stored
from companion.school.week_file import NAME, is_whole, write_week

if TYPE_CHECKING:
    import duckdb


@dataclass(frozen=True, slots=True)
class Shared:
    """What a room has put into the folder now."""

    files: tuple[Path, ...]
    lessons: int
    corrected: int
    """Lessons shared before whose counts have changed since."""


def room_sign(home: Home) -> str:
    """Return the sign that stands for this room wherever it is shared, made when it is asked for first.

    Raises OSError if the disk does not take it.
    """
    place = home.folder / "room-sign"
    if not place.exists():
        replace_file(place, str(ULID()).encode())
    return place.read_text(encoding="ascii").strip()


def share(home: Home, folder: Path, school: str, today: date) -> Shared:
    """Put the lessons of weeks that are over, and not in it yet, into `folder`: one file a week.

    A lesson that comes late, or whose count was opened again, makes another file of its week. Raises
    CompanionError if the log can't be read or the folder not written.
    """
    if not folder.is_dir():
        raise CompanionError(
            _("There is no folder {folder}.", folder=folder),
            safe=_("Nothing was shared."),
            remedy=_("Connect the school's drive, or correct the name."),
        )
    if not home.log.exists():
        raise CompanionError(
            _("There is no session log here yet."),
            safe=_("Nothing was shared."),
            remedy=_("Hold a lesson first."),
        )
    try:
        sign = room_sign(home)
        own = folder / sign
        own.mkdir(exist_ok=True)
        own_files = [file for file in sorted(own.iterdir()) if NAME.fullmatch(file.name) and is_whole(file)]
        found = read_log(home.log)
        with engine(folders=[own]) as db:
            shared = _shared(db, own_files)
            rows = list(_to_share(lesson_phases(school, sign, found, today), shared))
            files = [write_week(db, own, week, of_week) for week, of_week in in_weeks(rows).items()]
    except OSError as error:
        raise CompanionError(
            _("The folder {folder} can't be written ({error}).", folder=folder, error=error.strerror),
            safe=_("What was shared before is as it was."),
            remedy=_("Free or unlock the drive and try again: what is there already is not written twice."),
        ) from error
    new, corrected = (
        len({row.session for row in rows if bool(row.revision) is again}) for again in (False, True)
    )
    return Shared(tuple(files), new, corrected)


def _shared(db: "duckdb.DuckDBPyConnection", files: Sequence[Path]) -> dict[str, list[LessonPhase]]:
    """Return what was shared last of each lesson that is in the room's files."""
    sessions: dict[str, list[LessonPhase]] = defaultdict(list)
    for row in db.execute(stored(files)).fetchall():
        phase = LessonPhase(*row[: len(COLUMNS)])
        known = sessions[phase.session]
        if known and known[0].revision < phase.revision:
            known.clear()
        if not known or known[0].revision == phase.revision:
            known.append(phase)
    return sessions


def _to_share(
    rows: Iterable[LessonPhase], shared: Mapping[str, Sequence[LessonPhase]]
) -> Iterator[LessonPhase]:
    """Yield the rows of lessons that are new, and of those whose counts are others than those shared last."""
    for session, now in groupby(rows, key=lambda row: row.session):
        before, after = shared.get(session, ()), list(now)
        if not before:
            yield from after
        elif {_counts(row) for row in before} != {_counts(row) for row in after}:
            yield from (replace(row, revision=before[0].revision + 1) for row in after)


def _counts(row: LessonPhase) -> LessonPhase:
    """Return what a correction can be about.

    What came of a teaching is told once and for all, and a school may change its name.
    """
    return replace(
        row, school="", revision=0, known=0, then_lessons=0, then_needy=0, then_expected=0, then_spread=0
    )
