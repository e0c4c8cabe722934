"""What the teacher asks for."""

from companion.lesson.command import Action, Command
from companion.lesson.mark import WHOLE_CLASS, Kind


def test_only_praise_and_reminder_make_a_mark() -> None:
    """Every other action makes none."""
    kinds = {action: Command(action).kind for action in Action}
    assert {action: kind for action, kind in kinds.items() if kind} == {
        Action.PRAISE: Kind.PRAISE,
        Action.REMINDER: Kind.REMINDER,
    }


def test_a_command_is_for_the_whole_class_unless_it_says_otherwise() -> None:
    """As most are."""
    assert Command(Action.PRAISE).scope == WHOLE_CLASS
