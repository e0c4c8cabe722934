"""The check of cue and phrases."""

import pytest

from companion.errors import CompanionError
from companion.lesson.vocabulary import Vocabulary
from companion.listening.rehearsal.phrase_check import Grade, check, wordings


def test_a_long_rare_cue_is_good() -> None:
    """A cue of two long words that nobody says together passes, with its pronunciation."""
    cue, *_ = check(Vocabulary(("praise", "cleanup"), cue="velvet compass"), ["4-Hazel"])
    assert cue.text == "velvet compass"
    assert cue.verdict is Grade.GOOD
    assert cue.said[:3] == ("V", "EH", "L")
    assert cue.proposals == ()


def test_a_short_usual_cue_is_poor_and_better_ones_are_proposed() -> None:
    """A word that is said every few minutes is refused, and each proposal would be judged better."""
    cue, *_ = check(Vocabulary(("praise",), cue="okay"))
    assert cue.verdict is Grade.POOR
    assert any("ordinary talk" in remark for remark in cue.remarks)
    assert cue.proposals
    for proposal in cue.proposals:
        better, *_ = check(Vocabulary(("praise",), cue=proposal))
        assert better.verdict is Grade.GOOD


def test_two_phrases_that_sound_alike_are_told_of_each_other() -> None:
    """Phrases one sound apart are poor, and each names the other."""
    one, other = check(Vocabulary(("praise", "raise"), cue="velvet compass"))[1:]
    assert one.verdict is other.verdict is Grade.POOR
    assert (one.nearest, other.nearest) == ("raise", "praise")


def test_a_class_group_that_sounds_like_the_cue_is_told() -> None:
    """The names of class groups count, digits and hyphens and all."""
    cue, *_ = check(Vocabulary(("praise",), cue="for hazel"), ["4-Hazel"])
    assert cue.nearest == "4-Hazel"
    assert cue.verdict is Grade.POOR


def test_without_a_cue_more_is_asked_of_a_phrase() -> None:
    """What is enough after a cue is too little without one."""
    (alone,) = check(Vocabulary(("cleanup",)))
    _, after_cue = check(Vocabulary(("cleanup",), cue="velvet compass"))
    assert alone.verdict is Grade.POOR
    assert after_cue.verdict is Grade.GOOD


def test_a_guessed_pronunciation_is_told() -> None:
    """A word outside the dictionary is named as guessed."""
    _, phrase = check(Vocabulary(("zorbit signal",), cue="velvet compass"))
    assert phrase.guessed == ("zorbit",)
    assert phrase.verdict is Grade.FAIR


def test_another_language_is_refused() -> None:
    """The dictionary is English, and the check says so."""
    with pytest.raises(CompanionError, match="English"):
        check(Vocabulary(("lob",), language="de"))


def test_a_phrase_that_is_often_misheard_gets_other_wordings_whatever_its_verdict() -> None:
    """Longer ones that stand further from the other phrases."""
    vocabulary = Vocabulary(("next phase", "take it back", "praise"), cue="velvet compass", language="en")
    found = wordings("next phase", vocabulary)
    assert 0 < len(found) <= 3
    assert all(one.startswith("next phase ") for one in found)


def test_words_that_might_be_taken_for_a_command_are_named() -> None:
    """In plain words, for each of one's own commands."""
    _, phrase = check(Vocabulary(("next phase",), cue="velvet compass"))
    assert "next face" in phrase.near


def test_a_lone_short_word_without_a_cue_is_warned_of() -> None:
    """However rare it is, and not behind a cue."""
    (alone,) = check(Vocabulary(("zeppelin",)))
    _, after_cue = check(Vocabulary(("zeppelin",), cue="velvet compass"))
    assert alone.verdict is Grade.POOR
    assert any("lone short word" in remark for remark in alone.remarks)
    assert not any("lone short word" in remark for remark in after_cue.remarks)
