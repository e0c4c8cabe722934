"""What happens in a lesson."""

from companion.lesson import event as ev
from companion.lesson import happening
from companion.lesson.mark import WHOLE_CLASS, Kind, Source
from tests.lesson.builders import PLAN, praise, told


def test_whatever_happens_in_a_lesson_can_be_recorded() -> None:
    """No class of the module is without a name in the log."""
    made = {one for one in vars(happening).values() if getattr(one, "__module__", "") == happening.__name__}
    assert made <= set(ev.BODIES.values())


def test_an_older_log_says_less_of_an_opening() -> None:
    """Fields that came later stand for what was so before them."""
    opened = ev.SessionOpened("4-Hazel", PLAN)
    assert (opened.levels, opened.tables, opened.room, opened.engine, opened.carry_over) == (
        (),
        (),
        "",
        None,
        "",
    )
    assert (opened.waiting, opened.holds_marks) == (None, False)


def test_an_older_mark_is_the_whole_classs_and_told() -> None:
    """Scope, routine and holding came later."""
    mark = ev.MarkMade(Kind.PRAISE, 5, Source.KEY)
    assert (mark.scope, mark.routine, mark.held) == (WHOLE_CLASS, None, False)


def test_marks_are_told_together() -> None:
    """Of all that are named, whichever were held."""
    held = ev.MarkMade(Kind.PRAISE, 5, Source.KEY, held=True)
    session = told(held, held, praise(9), ev.MarksTold(("m2", "m3"), 10, Source.KEY))
    assert [mark.told for mark in session.marks] == [True, True, True]
