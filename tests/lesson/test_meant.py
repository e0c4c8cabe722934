"""A name that was typed with a slip of the hand."""

from companion.lesson.meant import meant

GROUPS = ("4-Hazel", "4-Elm", "2-Birch")


def test_a_slip_of_the_hand_is_known() -> None:
    """Two letters the wrong way round, one too few, or small ones."""
    assert [meant(typed, GROUPS) for typed in ("4-Hazle", "4-hazel", "2-Brch")] == [
        "4-Hazel",
        "4-Hazel",
        "2-Birch",
    ]


def test_another_name_is_nobody_s() -> None:
    """Nor is anything where nothing is known."""
    assert meant("band practice", GROUPS) is None
    assert meant("4-Hazel", ()) is None
