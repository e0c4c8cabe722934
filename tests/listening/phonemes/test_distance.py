"""Phonetic distances."""

from hypothesis import given
from hypothesis import strategies as st

from companion.listening.phonemes.distance import GAP, PHONEMES, distance, edit_cost, substitution_cost
from companion.listening.phonemes.pronunciation import Phonemes, phonemes

chains = st.lists(st.sampled_from(PHONEMES), max_size=8).map(tuple)


@given(chains, chains)
def test_it_is_a_distance(one: Phonemes, other: Phonemes) -> None:
    """Zero to itself, the same both ways, never more than all gaps, and between 0 and 1 by length."""
    assert edit_cost(one, one) == 0
    assert abs(edit_cost(one, other) - edit_cost(other, one)) < 1e-9
    assert edit_cost(one, other) <= GAP * (len(one) + len(other)) + 1e-9
    assert 0 <= distance(one, other) <= 1


def test_sounds_made_alike_are_near() -> None:
    """Voicing alone is a small difference, another place and manner a large one, vowel to consonant all."""
    assert substitution_cost("P", "B") < substitution_cost("P", "S") < substitution_cost("P", "AA") == 1
    assert substitution_cost("IY", "IH") < substitution_cost("IY", "AA")


def test_phrases_that_sound_alike_are_near() -> None:
    """A phrase is nearer to the one that rhymes with it than to another."""
    praise, raise_, reminder = map(phonemes, ("praise", "raise", "reminder"))
    assert edit_cost(praise, raise_) < edit_cost(praise, reminder)
