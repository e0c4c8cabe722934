"""A room puts its weeks into a folder that the school shares; nothing there is ever changed."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from ulid import ULID

from companion.errors import CompanionError
from companion.paths import Home, replace_file
from companion.school.engine import engine, listed
from companion.school.log_file import read_log
from companion.school.room import in_weeks, lesson_phases
from companion.school.week_file import NAME, is_whole, write_week


@dataclass(frozen=True, slots=True)
class Shared:
    """What a room has put into the folder now."""

    files: tuple[Path, ...]
    lessons: int


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

    A lesson that comes late makes another file of its week. Raises CompanionError if the log can't be read
    or the folder not written.
    """
    if not folder.is_dir():
        raise CompanionError(
            f"There is no folder {folder}.",
            safe="Nothing was shared.",
            remedy="Connect the school's drive, or correct the name.",
        )
    if not home.log.exists():
        raise CompanionError(
            "There is no session log here yet.", safe="Nothing was shared.", remedy="Hold a lesson first."
        )
    try:
        sign = room_sign(home)
        own = folder / sign
        own.mkdir(exist_ok=True)
        own_files = [file for file in sorted(own.iterdir()) if NAME.fullmatch(file.name) and is_whole(file)]
        found = read_log(home.log)
        with engine(folders=[own]) as db:
            there = {
                row[0]
                for row in (
                    db.execute(f"SELECT DISTINCT session FROM read_parquet({listed(own_files)})").fetchall()  # noqa: S608
                    if own_files
                    else ()
                )
            }
            rows = (row for row in lesson_phases(school, sign, found, today) if row.session not in there)
            files, lessons = [], 0
            for week, of_week in in_weeks(rows).items():
                files.append(write_week(db, own, week, of_week))
                lessons += sum(row.lesson for row in of_week)
    except OSError as error:
        raise CompanionError(
            f"The folder {folder} can't be written ({error.strerror}).",
            safe="What was shared before is as it was.",
            remedy="Free or unlock the drive and try again: what is there already is not written twice.",
        ) from error
    return Shared(tuple(files), lessons)
