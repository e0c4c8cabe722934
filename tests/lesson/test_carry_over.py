"""What waits to be said."""

from dataclasses import replace

from companion.lesson import aftercare
from companion.lesson import event as ev
from companion.lesson.carry_over import Answer, CarriedOver, CarryOverAnswer
from companion.lesson.fold import fold
from tests.lesson.builders import OPENED, events

WAITING = (CarriedOver("a", "Gates shut."), CarriedOver("b", "Tools back."), CarriedOver("c", "Boots off."))


def test_each_answer_says_what_became_of_which() -> None:
    """One was said, one goes to another class group, one need not be said."""
    opened = replace(events()[0], body=replace(OPENED, waiting=WAITING))
    after = events(
        ev.CarryOverSaid("a"),
        aftercare.CarryOverMoved("b", "2-Birch"),
        aftercare.CarryOverDropped("c"),
    )
    assert fold([opened, *after[1:]]).answers == (
        CarryOverAnswer("a", Answer.SAID),
        CarryOverAnswer("b", Answer.MOVED, "2-Birch"),
        CarryOverAnswer("c", Answer.DROPPED),
    )
