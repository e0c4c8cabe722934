"""What is listened for."""

from companion.lesson.vocabulary import Vocabulary

PHRASES = ("praise", "line up")


def test_with_a_cue_the_cue_alone_is_listened_for_first() -> None:
    """Without one, every phrase is."""
    assert Vocabulary(PHRASES, "velvet compass").openers == ("velvet compass",)
    assert Vocabulary(PHRASES).openers == PHRASES


def test_a_phrase_is_said_right_after_the_cue() -> None:
    """Or alone."""
    assert Vocabulary(PHRASES, "velvet compass").spoken("praise") == "velvet compass praise"
    assert Vocabulary(PHRASES).spoken("praise") == "praise"
