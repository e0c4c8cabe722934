"""The object that goes home with a level."""

from companion.lesson.award import AwardOut, award_of, pieces_left
from companion.lesson.recognition import Level
from tests.lesson.builders import AT

GNOME = Level("Full bloom", 5, "the garden gnome", 2)
LEVELS = (GNOME, Level("In bud", 2))


def test_an_award_is_out_until_it_came_back() -> None:
    """When it went is no part of what it is."""
    out = AwardOut("the garden gnome", AT)
    assert out.is_out
    assert not AwardOut("the garden gnome", AT, AT).is_out


def test_only_a_level_with_an_object_gives_one() -> None:
    """A level without an object, an unknown one and none give nothing."""
    assert award_of(LEVELS, "Full bloom") == GNOME
    assert [award_of(LEVELS, name) for name in ("In bud", "Sprouting", None)] == [None] * 3


def test_pieces_that_are_with_a_class_are_not_here() -> None:
    """Other objects don't count, and there are never fewer than none."""
    assert pieces_left(GNOME, ["the watering can", "the garden gnome"]) == 1
    assert pieces_left(GNOME, ["the garden gnome"] * 3) == 0
