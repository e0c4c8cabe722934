"""A room's export in Parquet, read where it lies; the file of individual notes is never opened."""

from pathlib import Path

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.trends import LessonHeld, RoutineCount
from companion.log.weeks import TaughtAgain
from companion.school.engine import engine, quoted
from companion.school.room import PhaseHeld, RoomLessons, SharedLesson

TABLES = ("sessions", "phases", "marks", "taught_again")
"""The files that are opened; DuckDB itself refuses all others on this connection."""


def is_export(folder: Path) -> bool:
    """Return whether the folder holds an export in Parquet."""
    return all((folder / f"{table}.parquet").is_file() for table in TABLES)


def read_export(folder: Path) -> tuple[str, RoomLessons]:
    """Return the name of the room and its lessons; what a guest taught is left out.

    Raises CompanionError if the files are no export.
    """
    import duckdb  # noqa: PLC0415 - an extra

    files = {table: folder / f"{table}.parquet" for table in TABLES}
    try:
        with engine(files=list(files.values())) as db:
            for table, file in files.items():
                db.execute(f"CREATE VIEW {table} AS SELECT * FROM read_parquet({quoted(file)})")  # noqa: S608
            lessons = db.execute(
                """SELECT session, class_group, plan, opened_at[1:10], settled, praise, reminder, recognition
                FROM sessions WHERE NOT by_guest ORDER BY CAST(opened_at AS TIMESTAMPTZ), session"""
            ).fetchall()
            phases = db.execute(
                """SELECT session, phase, place, praise, reminder, named_praise
                FROM phases ORDER BY session, place"""
            ).fetchall()
            counts = db.execute(
                """SELECT session, phase, routine, count_if(kind = 'praise'), count_if(kind = 'reminder')
                FROM marks GROUP BY ALL ORDER BY ALL"""
            ).fetchall()
            taught = db.execute(
                """SELECT session, class_group, opened_at[1:10], phase, routine
                FROM sessions JOIN taught_again USING (session)
                ORDER BY CAST(opened_at AS TIMESTAMPTZ), session, phase, routine"""
            ).fetchall()
            newest = db.execute("SELECT room FROM sessions ORDER BY opened_at DESC LIMIT 1").fetchone()
    except duckdb.Error as error:
        raise CompanionError(
            _(
                "{folder} can't be read as an export ({error}).",
                folder=folder,
                error=str(error).splitlines()[0],
            ),
            safe=_("Nothing in it was changed."),
            remedy=_("Make it again with: companion export FOLDER --format parquet"),
        ) from error
    return newest[0] if newest else "", RoomLessons(
        [SharedLesson(LessonHeld(*row[:4]), *row[4:]) for row in lessons],
        [PhaseHeld(*row) for row in phases],
        [RoutineCount(*row) for row in counts],
        [TaughtAgain(*row) for row in taught],
    )
