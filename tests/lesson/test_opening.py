"""Which lesson is to be opened."""

from companion.lesson.opening import Opening


def test_an_opening_leaves_plan_and_room_to_the_settings() -> None:
    """Unless it names them."""
    assert (Opening("4-Hazel").plan, Opening("4-Hazel").room) == (None, "")
    assert Opening("4-Hazel", "garden lesson") != Opening("4-Hazel")
