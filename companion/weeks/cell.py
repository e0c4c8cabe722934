"""What is counted: in how many lessons a class group needed a reminder for a routine."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from companion.language import _
from companion.lesson.trends import LessonHeld, RoutineCount


@dataclass(frozen=True, slots=True)
class Cell:
    """One routine of one class group over some of its lessons."""

    class_group: str
    phase: str
    routine: str
    """Empty: marks of the phase that named no routine."""
    needy: tuple[bool, ...]
    """For each lesson, oldest first, whether it had more reminders than praises for the routine."""
    praise: int = 0
    reminder: int = 0

    @property
    def lessons(self) -> int:
        """How many lessons were looked at."""
        return len(self.needy)

    @property
    def count(self) -> int:
        """How many of them needed it."""
        return sum(self.needy)

    @property
    def what(self) -> str:
        """The routine with its phase, in words."""
        if not self.routine:
            return _("the routines of {phase}", phase=self.phase)
        return _("“{routine}” in {phase}", routine=self.routine, phase=self.phase)


def cells(lessons: Sequence[LessonHeld], counts: Iterable[RoutineCount]) -> tuple[Cell, ...]:
    """Return every routine that was marked in a plan, for every class group that had lessons by that plan.

    lessons: oldest first. A lesson in which a routine got no mark is one that did not need a reminder;
    without such lessons the rates would be those of the lessons that went wrong.
    """
    marked: dict[tuple[str, str, str], RoutineCount] = {}
    by_id = {lesson.id: lesson for lesson in lessons}
    routines: dict[str, dict[tuple[str, str], None]] = defaultdict(dict)
    for count in counts:
        if count.lesson in by_id and count.phase:
            marked[count.lesson, count.phase, count.routine] = count
            routines[by_id[count.lesson].plan][count.phase, count.routine] = None
    held: dict[tuple[str, str, str], list[RoutineCount | None]] = defaultdict(list)
    for lesson in lessons:
        for phase, routine in routines[lesson.plan]:
            held[lesson.class_group, phase, routine].append(marked.get((lesson.id, phase, routine)))
    return tuple(
        Cell(
            *key,
            tuple([count is not None and count.reminder > count.praise for count in same]),
            sum([count.praise for count in same if count]),
            sum([count.reminder for count in same if count]),
        )
        for key, same in held.items()
    )
