"""Lessons of many rooms as values, and the groups that may be told of them by brute force."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from companion.school.layout import LessonPhase

PLAIN = LessonPhase(
    school="Alder Lane School",
    room="garden",
    session="s",
    week="2026-09-07",
    class_group="4-Hazel",
    grade="4",
    recognition="First sprout",
    lesson=1,
    phase="arrival",
    place=0,
    held=1,
    praise=2,
    reminder=1,
    named=1,
    taught=0,
    known=0,
    then_lessons=0,
    then_needy=0,
    then_expected=0,
    then_spread=0,
)
"""A lesson of one phase."""


def lesson(room: str, session: str, week: str, class_group: str, **values: object) -> LessonPhase:
    """Return a lesson of one phase."""
    plain = replace(
        PLAIN, room=room, session=session, week=week, class_group=class_group, grade=class_group[0]
    )
    return replace(plain, **values)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class Held:
    """What counts of a lesson for whether a group of lessons may be told."""

    room: str
    class_group: tuple[str, str]


def may_be_told(lessons: Iterable[Held]) -> bool:
    """Whether the group, also without any one of its rooms, is of five lessons and three class groups."""
    group = list(lessons)
    rooms = {one.room for one in group}
    rests = [[one for one in group if one.room != room] for room in rooms]
    return len(rooms) >= 3 and all(
        len(rest) >= 5 and len({one.class_group for one in rest}) >= 3 for rest in rests
    )
