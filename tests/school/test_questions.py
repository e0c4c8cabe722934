"""The school's questions: what may be told, and that no two answers together tell more."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import astuple, replace
from itertools import combinations, permutations, product
from typing import Any

import duckdb
from hypothesis import HealthCheck, Phase, event, given, settings
from hypothesis import strategies as st

from companion.school.ask import GROUPS, QUESTIONS, Helped, SchoolLook, look_of, sql_of
from companion.school.layout import COLUMNS, LessonPhase
from tests.school.rooms import Held, lesson, may_be_told

WEEKS = ("2026-09-07", "2026-09-14", "2026-10-05")
CLOSED = "2026-11-02"
Correction = tuple[LessonPhase, str, int]
"""A row, the week in which it is told, and 1, or -1 where it takes back what was told."""
HUGE_BITS = 126
"""So long is the longest number of DuckDB."""
GRADE_4, GRADE_5 = ("4-Hazel", "4-Oak", "4-Elder", "4-Birch"), ("5-Hazel", "5-Oak", "5-Elder")


@contextmanager
def groups_of(
    rows: Sequence[LessonPhase], closed: str = CLOSED, corrections: Sequence[Correction] = ()
) -> Iterator[duckdb.DuckDBPyConnection]:
    """Give a database with the groups that may be told; praise may be as long a number as you like."""
    with duckdb.connect() as db:
        columns = ", ".join(
            f"{name} {'HUGEINT' if name == 'praise' else kind}" for name, kind in COLUMNS.items()
        )
        db.execute(f"CREATE TABLE lesson_phases ({columns}, told VARCHAR, sign INTEGER, counted INTEGER)")
        marks = f"({', '.join('?' for _ in range(len(COLUMNS) + 3))})"
        if rows:
            values = [value for row in rows for value in (*astuple(row), row.week, 1, 1)]
            values += [value for row, told, sign in corrections for value in (*astuple(row), told, sign, 0)]
            db.execute(
                f"INSERT INTO lesson_phases VALUES {', '.join(marks for _ in (*rows, *corrections))}", values
            )
        db.execute("CREATE TABLE closed AS SELECT ? AS week", [closed])
        for name in GROUPS:
            db.execute(f"CREATE TABLE {name} AS {sql_of(name)}")
        yield db


def answers_of(
    db: duckdb.DuckDBPyConnection, since: str = "0000", until: str = "9999"
) -> dict[str, list[tuple[Any, ...]]]:
    """Return the answers over the groups between two days."""
    db.execute("CREATE OR REPLACE TABLE asked AS SELECT ? AS since, ? AS until", [since, until])
    return {name: db.execute(sql_of(name)).fetchall() for name in QUESTIONS}


def look(rows: Sequence[LessonPhase], closed: str = CLOSED) -> SchoolLook:
    """Return what is told of `rows`."""
    with groups_of(rows, closed) as db:
        return look_of(answers_of(db), closed)


def school(rooms: int, class_groups: int, *, week: str = WEEKS[0], **values: int | str) -> list[LessonPhase]:
    """Return a week in which each of `rooms` has a lesson of each of `class_groups` of grade 4."""
    return [
        lesson(f"room {room}", f"{week} {room} {group} {values}", week, f"4-{group}", **values)
        for room in range(rooms)
        for group in range(class_groups)
    ]


def test_praise_coverage_and_recognitions_are_summed() -> None:
    """By grade, phase and week."""
    rows = school(3, 3) + school(3, 3, lesson=0, phase="cleanup", place=1, praise=0, reminder=0, named=0)
    told = look(rows)
    assert told.lessons == 9
    assert [(one.name, one.praise, one.reminder, one.named) for one in told.grades] == [("4", 18, 9, 9)]
    assert [(one.name, one.praise) for one in told.spans] == [(WEEKS[0], 18)]
    assert [(one.phase, one.judged.count, one.judged.total) for one in told.phases] == [
        ("arrival", 9, 9),
        ("cleanup", 0, 9),
    ]
    assert told.by_grade[0].lessons == {"First sprout": 9}


def test_two_rooms_are_told_nothing_of() -> None:
    """Each could take its own away, and would have the other."""
    told = look(school(2, 8))
    assert (told.lessons, told.grades, told.phases) == (0, (), ())


def test_few_class_groups_are_not_told_however_many_lessons() -> None:
    """Two class groups, nine lessons of each."""
    rows = [row for number in range(9) for row in school(3, 2, named=number)]
    assert look(rows).lessons == 0


def test_weeks_that_are_too_small_are_told_by_the_month_when_it_is_over() -> None:
    """Three rooms, each with one class group a week: the month has three of them."""
    rows = [
        row
        for number, week in enumerate(("2026-09-07", "2026-09-14", "2026-09-21"))
        for room in range(3)
        for row in [lesson(f"room {room}", f"{room} {week}", week, f"4-{number}")]
    ]
    assert [one.name for one in look(rows).spans] == ["2026-09"]
    assert look(rows, "2026-09-21").spans == ()


def test_a_week_that_is_not_closed_is_not_told() -> None:
    """Rooms that share late would change it."""
    assert look(school(3, 3), "2026-08-31").lessons == 0


def test_a_phase_of_one_room_goes_with_the_smallest_that_may_be_told() -> None:
    """Else all minus the others would be that room's."""
    rows = (
        school(3, 3)
        + school(3, 4, lesson=0, phase="cleanup", place=1)
        + school(1, 3, lesson=0, phase="kiln", place=2, praise=40)
    )
    assert [one.phase for one in look(rows).phases] == ["cleanup", "other phases"]


def test_whether_teaching_helped_has_its_uncertainty() -> None:
    """Less than was to be expected is named only where chance does not do as much."""

    def told(needy: int) -> Helped:
        values = {"taught": 1, "known": 1, "then_lessons": 6, "then_expected": 3000, "then_spread": 1500}
        return look(school(3, 3, week=WEEKS[0], then_needy=needy, **values)).helped

    helped = told(0)
    assert (helped.taught, helped.teachings, helped.lessons, helped.needy) == (9, 9, 54, 0)
    assert helped.sentence == (
        "After 9 teachings 0 of 54 lessons needed a reminder for what was taught; 27 were to be expected"
        " anyway: 27 fewer (95 %: 20 to 34). So it helped."
    )
    assert told(3).sentence.endswith(
        "27 were to be expected anyway. No change that could be told from chance."
    )
    assert told(5).sentence.endswith("So it got worse.")
    assert look([]).helped.sentence.startswith("Too early, or of too few rooms")


@st.composite
def _schools(draw: st.DrawFn) -> tuple[list[LessonPhase], list[Correction]]:
    """Draw weeks of four rooms that often lack something; each phase's praise is its own power of two.

    Some lessons get more praise later, again a power of two each.
    """
    chance = draw(st.randoms(use_true_random=False))
    kept, kiln = draw(st.sampled_from((0.6, 0.8, 1.0))), draw(st.sampled_from((0.0, 0.1, 0.9)))
    rows: list[LessonPhase] = []
    for room, week, group in product("abcd", WEEKS[1:], (*GRADE_4, *GRADE_5)):
        if chance.random() < kept:
            recognition = chance.choice(("Full basket", "First sprout"))
            phases = ["arrival", *(["kiln"] if chance.random() < kiln else ["cleanup"])]
            for at, phase in enumerate(phases):
                values = {"phase": phase, "place": at, "lesson": int(at == 0), "recognition": recognition}
                praise = 2 ** len(rows)
                rows.append(lesson(room, f"{room} {week} {group}", week, group, praise=praise, **values))
    corrections: list[Correction] = []
    often = draw(st.sampled_from((0.0, 0.1)))
    for row in rows:
        bit = len(rows) + len(corrections) // 2
        if chance.random() < often and bit < HUGE_BITS:
            more = 2**bit
            told = chance.choice([week for week in WEEKS if week >= row.week])
            corrections += [(row, told, -1), (replace(row, praise=row.praise + more, revision=1), told, 1)]
    return rows, corrections


@given(_schools())
@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck), phases=[Phase.generate])
def test_no_answer_and_no_subtraction_of_two_tells_of_a_small_group(
    drawn: tuple[list[LessonPhase], list[Correction]],
) -> None:
    """Praise says which lessons are in a figure, so all that can be had by subtraction is looked at.

    Whatever weeks are asked for, every figure, and whatever is left of one figure without another, is of
    lessons that may be told; what corrects one is never without them.
    """
    rows, corrections = drawn
    figures: set[int] = set()
    with groups_of(rows, corrections=corrections) as db:
        for since, until in (("0000", "9999"), *combinations((*WEEKS, "9999"), 2)):
            found = answers_of(db, since, until)
            figures |= {row[1] for row in (*found["by_grade"], *found["by_span"])}
            figures |= {row[4] for row in found["by_phase"]} | {sum(row[1] for row in found["by_grade"])}
            lessons = [row[2] for row in found["recognitions_by_grade"]]
            assert all(count >= 5 for count in lessons)
        figures |= {row[0] for row in db.execute("SELECT praise FROM phase_groups").fetchall()}
    figures.discard(0)
    event(f"{len(figures)} figures")
    within = [(one, other) for one, other in permutations(figures, 2) if one & other == other]
    for left in figures | {one - other for one, other in within}:
        sessions = {row.session: row for bit, row in enumerate(rows) if left >> bit & 1}
        assert may_be_told(Held(row.room, (row.school, row.class_group)) for row in sessions.values())
