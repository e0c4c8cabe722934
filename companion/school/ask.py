"""The school's questions, plain SQL files, asked of the store; each answer sums groups that may be told."""

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from companion.language import _, later
from companion.lesson.chance import Z95, Share, share
from companion.lesson.trends import ratio_words
from companion.paths import private_folder, replace_file
from companion.school.engine import engine, listed, quoted
from companion.school.layout import half_of
from companion.school.store import Store, stored

if TYPE_CHECKING:
    import duckdb

QUESTION_FILES = Path(__file__).parent / "questions"
GROUPS = ("spans", "phase_groups", "recognition_groups", "taught_groups")
"""The groups that may be told, in the order in which they are made: each reads those before it."""
QUESTIONS = (
    "by_grade",
    "by_span",
    "by_phase",
    "recognitions_by_grade",
    "recognitions_by_span",
    "taught_again",
)
ALWAYS = ("0000", "9999")
OTHER_PHASES, OTHERS, NONE = later("other phases"), later("others"), later("none")
"""What the SQL files call phases and recognitions that are told together, and that there was none."""

Row = tuple[int | str, ...]


@dataclass(frozen=True, slots=True)
class Marks:
    """Praise to reminders in one grade or one span."""

    name: str
    praise: int
    reminder: int
    named: int

    @property
    def share(self) -> Share:
        """Praise among all marks."""
        return share(self.praise, self.praise + self.reminder)


@dataclass(frozen=True, slots=True)
class PhaseTold:
    """A phase over all rooms."""

    phase: str
    place: float
    judged: Share
    """Lessons in which it got a mark, of those in which it was held."""
    praise: int
    reminder: int
    named: Share
    """Praises that named a routine, of all praises."""


@dataclass(frozen=True, slots=True)
class Recognised:
    """Lessons of one grade or one span, by what the class took home."""

    name: str
    lessons: dict[str, int]


@dataclass(frozen=True, slots=True)
class Helped:
    """What was taught again, and what came of it."""

    taught: int
    teachings: int
    """Those of which enough lessons afterwards are known."""
    lessons: int
    needy: int
    expected: float
    spread: float
    """Variance of the expectation."""

    @property
    def fewer(self) -> tuple[float, float, float]:
        """How many fewer lessons needed a reminder than were to be expected, with 95 %: value, low, high.

        The sum of many independent lessons, taken as normal about what was to be expected.
        """
        half = Z95 * math.sqrt(self.spread)
        value = self.expected - self.needy
        return value, value - half, value + half

    @property
    def sentence(self) -> str:
        """Say it with its numbers."""
        if not self.teachings:
            return _("Too early, or of too few rooms, to say whether teaching again helped.")
        value, low, high = self.fewer
        told = {
            "teachings": self.teachings,
            "needy": self.needy,
            "lessons": self.lessons,
            "expected": f"{self.expected:.0f}",
        }
        if low > 0:
            return _(
                "After {teachings} teachings {needy} of {lessons} lessons needed a reminder for what was "
                "taught; {expected} were to be expected anyway: {fewer} fewer "
                "(95 %: {low} to {high}). So it helped.",
                **told,
                fewer=f"{value:.0f}",
                low=f"{low:.0f}",
                high=f"{high:.0f}",
            )
        if high < 0:
            return _(
                "After {teachings} teachings {needy} of {lessons} lessons needed a reminder for what was "
                "taught; {expected} were to be expected anyway: {more} more "
                "(95 %: {low} to {high}). So it got worse.",
                **told,
                more=f"{-value:.0f}",
                low=f"{-high:.0f}",
                high=f"{-low:.0f}",
            )
        return _(
            "After {teachings} teachings {needy} of {lessons} lessons needed a reminder for what was taught; "
            "{expected} were to be expected anyway. No change that could be told from chance.",
            **told,
        )


@dataclass(frozen=True, slots=True)
class SchoolLook:
    """What all rooms together tell."""

    closed: str
    """The Monday of the last week that is told."""
    lessons: int
    grades: tuple[Marks, ...]
    spans: tuple[Marks, ...]
    phases: tuple[PhaseTold, ...]
    recognitions: tuple[str, ...]
    by_grade: tuple[Recognised, ...]
    by_span: tuple[Recognised, ...]
    helped: Helped

    @property
    def praise(self) -> int:
        """All praises that are told."""
        return sum(one.praise for one in self.grades)

    @property
    def reminder(self) -> int:
        """All reminders that are told."""
        return sum(one.reminder for one in self.grades)

    @property
    def share(self) -> Share:
        """Praise among all marks that are told."""
        return share(self.praise, self.praise + self.reminder)

    @property
    def ratio(self) -> str:
        """The praises for each reminder, in words."""
        return ratio_words(self.praise, self.reminder)


def sql_of(name: str) -> str:
    """Return the SQL of a group or a question."""
    return (QUESTION_FILES / f"{name}.sql").read_text(encoding="utf-8")


def sum_up(store: Store) -> None:
    """Make the groups of all lessons in the store, half-year by half-year. Raises OSError.

    What is told of a half-year rests on its rows alone, so memory goes with one of them, and one that is over
    is made anew only where lessons have come to it. The answers over all of them are kept, for whoever looks
    at the page.
    """
    groups = private_folder(store.groups)
    store.answers.unlink(missing_ok=True)
    with engine(folders=[store.folder], spill=private_folder(store.spill)) as db:
        db.execute(f"CREATE TEMP TABLE closed AS SELECT {quoted(store.closed)} AS week")
        for half, files in _halves(db, store).items():
            made_of = groups / f"{half}.txt"
            # A half-year that goes on tells more with every week that is closed.
            until = store.closed if half >= half_of(store.closed) else "over"
            names = "\n".join([until, *(file.name for file in files)])
            if not made_of.exists() or made_of.read_text(encoding="utf-8") != names:
                made_of.unlink(missing_ok=True)
                _sum_up_half(db, groups, half, files)
                made_of.write_text(names, encoding="utf-8")
    for name in GROUPS:
        # Where an older version has put all half-years.
        (groups / f"{name}.parquet").unlink(missing_ok=True)
    replace_file(store.answers, json.dumps(_answers(store, *ALWAYS)).encode())


def _sum_up_half(db: "duckdb.DuckDBPyConnection", groups: Path, half: str, files: Sequence[Path]) -> None:
    first, last = ("01", "06") if half.endswith("H1") else ("07", "12")
    told = f"told BETWEEN '{half[:4]}-{first}-01' AND '{half[:4]}-{last}-31'"
    db.execute(f"CREATE OR REPLACE TEMP VIEW lesson_phases AS {stored(files)} WHERE {told}")
    for name in GROUPS:
        db.execute(f"CREATE OR REPLACE TEMP TABLE {name} AS {sql_of(name)}")
    for name in GROUPS:
        fresh = groups / f"{half}.{name}.new"
        db.execute(f"COPY {name} TO {quoted(fresh)} (FORMAT parquet)")
        fresh.rename(groups / f"{half}.{name}.parquet")
        db.execute(f"DROP TABLE {name}")


def _halves(db: "duckdb.DuckDBPyConnection", store: Store) -> dict[str, list[Path]]:
    """Return for each half-year that is told the files with rows of it; that of the last week in any case."""
    halves: dict[str, list[Path]] = {half_of(store.closed): []}
    for file in store.files:
        for (week,) in db.execute(f"SELECT DISTINCT told FROM read_parquet({quoted(file)})").fetchall():  # noqa: S608
            if week <= store.closed and file not in halves.setdefault(half_of(week), []):
                halves[half_of(week)].append(file)
    return dict(sorted(halves.items()))


def open_lessons(db: "duckdb.DuckDBPyConnection", files: Sequence[Path], closed: str) -> None:
    """Give the SQL files what they read: `lesson_phases` and `closed`."""
    db.execute(f"CREATE TEMP VIEW lesson_phases AS {stored(files)}")
    db.execute(f"CREATE TEMP TABLE closed AS SELECT {quoted(closed)} AS week")


def ask(store: Store, since: date | None = None, until: date | None = None) -> SchoolLook:
    """Return the answers over the spans that begin between two days; without them, over all."""
    if since is None and until is None and store.answers.exists():
        return look_of(json.loads(store.answers.read_bytes()), store.closed)
    asked = [day.isoformat() if day else usual for day, usual in zip((since, until), ALWAYS, strict=True)]
    return look_of(_answers(store, *asked), store.closed)


def _answers(store: Store, since: str, until: str) -> dict[str, list[Row]]:
    """Ask the questions over the spans that begin between two days."""
    with engine(folders=[store.folder]) as db:
        for name in GROUPS:
            files = listed(store.groups_of(name))
            db.execute(f"CREATE TEMP VIEW {name} AS SELECT * FROM read_parquet({files})")  # noqa: S608
        db.execute(f"CREATE TEMP TABLE asked AS SELECT {quoted(since)} AS since, {quoted(until)} AS until")
        return {name: db.execute(sql_of(name)).fetchall() for name in QUESTIONS}


def look_of(answers: Mapping[str, Sequence[Row]], closed: str) -> SchoolLook:
    """Return the answers of the SQL files as values."""
    lessons: dict[str, int] = {}
    for _grade, recognition, count in answers["recognitions_by_grade"]:
        lessons[str(recognition)] = lessons.get(str(recognition), 0) + int(count)
    recognitions = sorted(lessons, key=lambda name: (name in (OTHERS, NONE), name == NONE, name))
    return SchoolLook(
        closed,
        sum(lessons.values()),
        _marks(answers["by_grade"]),
        _marks(answers["by_span"]),
        _phases(answers["by_phase"]),
        tuple(map(_in_words, recognitions)),
        _recognised(answers["recognitions_by_grade"]),
        _recognised(answers["recognitions_by_span"]),
        _helped(answers["taught_again"]),
    )


def _marks(rows: Iterable[Row]) -> tuple[Marks, ...]:
    return tuple(sorted((Marks(str(name), *map(int, rest)) for name, *rest in rows), key=_in_order))


def _in_order(marks: Marks) -> tuple[int, str]:
    """Sort 10 behind 9, and K before 1."""
    return (int(marks.name), "") if marks.name.isdecimal() else (0, marks.name)


def _phases(rows: Iterable[Row]) -> tuple[PhaseTold, ...]:
    found = [
        PhaseTold(
            str(phase),
            int(places) / int(held),
            share(int(judged), int(held)),
            int(praise),
            int(reminder),
            share(int(named), int(praise)),
        )
        for phase, places, held, judged, praise, reminder, named in rows
    ]
    found.sort(key=lambda one: (one.phase in (OTHER_PHASES, ""), one.place))
    return tuple(replace(one, phase=_in_words(one.phase)) for one in found)


def _in_words(name: str) -> str:
    """Return the name of a phase or recognition as it is read; what people named stays as it is."""
    if not name:
        return _("in no phase")
    return _(name) if name in (OTHER_PHASES, OTHERS, NONE) else name


def _recognised(rows: Iterable[Row]) -> tuple[Recognised, ...]:
    named: dict[str, dict[str, int]] = {}
    for name, recognition, lessons in rows:
        named.setdefault(str(name), {})[_in_words(str(recognition))] = int(lessons)
    return tuple(Recognised(name, lessons) for name, lessons in named.items())


def _helped(rows: Iterable[Row]) -> Helped:
    sums = {str(kind): [int(value) for value in rest] for kind, *rest in rows}
    _, taught, *_ = sums.get("taught", [0, 0])
    _, teachings, lessons, needy, expected, spread = sums.get("known", [0] * 6)
    return Helped(taught, teachings, lessons, needy, expected / 1000, spread / 1000)
