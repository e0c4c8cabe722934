"""Words that are nearly a phrase."""

import pytest

from companion.listening.phonemes.distance import edit_cost
from companion.listening.phonemes.pronunciation import phonemes
from companion.listening.rehearsal.near_words import ALIKE, TOLD, near_sentences


def test_usual_words_that_sound_nearly_like_it_are_named() -> None:
    """“Next phase” is nearly “next face”, and none of what is named is the phrase itself."""
    assert "next face" in {near.text for near in near_sentences("next phase")}


@pytest.mark.parametrize("phrase", ["praise", "take it back", "table four reminder", "stop signal"])
def test_what_is_named_differs_by_a_little(phrase: str) -> None:
    """By more than nothing, and by no more than is said."""
    found = near_sentences(phrase)
    assert 0 < len(found) <= TOLD
    for near in found:
        assert 0 < near.difference <= ALIKE
        assert edit_cost(phonemes(near.text), phonemes(phrase)) <= near.difference + 1e-9
