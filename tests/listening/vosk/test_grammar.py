"""The grammar of a lesson's phrases, on the vocabulary of the real Korean model."""

import itertools
import math
import unicodedata
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.errors import CompanionError
from companion.lesson.vocabulary import Vocabulary
from companion.listening.vosk.grammar import Grammar, Reading, Word, split_words
from companion.settings.phrase_packs import starter_text
from companion.settings.settings import parse_settings
from tests.listening.korean import VOCABULARY, korean_model

LONGER = Vocabulary(("정리", "정리 시간", "취소"), "우리 반", "ko")


@cache
def _grammar(vocabulary: Vocabulary) -> Grammar:
    return Grammar(vocabulary, korean_model())


def _heard(text: str) -> list[Word]:
    return [Word(word, 1_000 * at, 1_000 * at + 900) for at, word in enumerate(text.split())]


def test_model_tells_its_own_unknown_word() -> None:
    """The symbol for an unknown word is the model's own, and goes into the grammar."""
    model = korean_model()
    assert model.unknown == "<UNK>"
    assert Grammar(VOCABULARY, model).lines[-2:] == ["<UNK>", "우리 반 <UNK>"]


def test_words_that_the_model_lacks_are_named() -> None:
    """Every word that Vosk would drop in silence is named, and nothing else."""
    with pytest.raises(CompanionError, match="“건너뛰기”, “풀꽃놀이터”") as caught:
        Grammar(Vocabulary(("건너뛰기", "취소", "풀꽃놀이터"), "우리 반", "ko"), korean_model())
    assert "취소" not in str(caught.value)


@pytest.mark.parametrize(
    "text", ["우리 취소", "반 취소", "우리 반", "우리 반 우리 취소", "취소 우리 반", "우리 반 <UNK> 취소"]
)
def test_recombined_words_are_no_phrase(text: str) -> None:
    """Words of the phrases in another order or with another word between are not a phrase."""
    assert _grammar(VOCABULARY).matches(_heard(text)) == []


def test_longest_phrase_wins() -> None:
    """Where one phrase begins another, the longer one that was heard is meant."""
    matches = _grammar(LONGER).matches(_heard("우리 반 정리 시간 우리 반 정리"))
    assert [match.phrase for match in matches] == ["정리 시간", "정리"]
    assert (matches[0].begin, matches[0].end) == (0, 3_900)


def test_phrase_is_found_behind_a_word_squeezed_in() -> None:
    """A phrase that only the second reading has whole is found, with that reading's share."""
    readings = [Reading(_heard("우리 반 우리 취소"), 10.0), Reading(_heard("우리 반 취소"), 10.0)]
    (match,) = _grammar(VOCABULARY).likely_matches(readings)
    assert match.phrase == "취소"
    assert match.posterior == pytest.approx(0.5)


def test_likelier_phrase_wins_where_readings_differ() -> None:
    """Of two phrases in the same place, the one that more of the probability speaks for is taken, once."""
    texts = (("우리 반 정원", 5.0), ("우리 반 취소", 6.0), ("우리 반 취소 <UNK>", 6.0))
    readings = [Reading(_heard(text), likelihood) for text, likelihood in texts]
    (match,) = _grammar(VOCABULARY).likely_matches(readings)
    assert match.phrase == "취소"
    assert match.posterior == pytest.approx(2 / (2 + math.exp(-1)))


def test_nothing_heard_is_no_match() -> None:
    """Without a reading there is no match."""
    assert _grammar(VOCABULARY).likely_matches([]) == []


def test_phrase_that_may_go_on_is_waited_for() -> None:
    """A phrase at the end that a further word could lengthen is not taken yet; any other is."""
    grammar = _grammar(LONGER)
    assert not grammar.holds(["우리", "반", "정리"])
    assert grammar.holds(["우리", "반", "정리", "시간"])
    assert grammar.holds(["우리", "반", "정리", "우리"])
    assert grammar.holds(["우리", "반", "취소"])


@settings(deadline=None)
@given(words=st.lists(st.sampled_from(["우리", "반", "정리", "시간", "취소", "<UNK>"]), max_size=20))
def test_matches_never_overlap(words: list[str]) -> None:
    """Whatever was heard, matches are whole phrases in order that share no word."""
    heard = _heard(" ".join(words))
    matches = _grammar(LONGER).matches(heard)
    for match in matches:
        said = [word.text for word in heard if match.begin <= word.begin < match.end]
        assert tuple(said) == match.spoken == split_words(LONGER.spoken(match.phrase))
    assert all(one.end <= other.begin for one, other in itertools.pairwise(matches))


def test_phrase_is_written_as_models_write() -> None:
    """Case, punctuation and decomposed letters make no difference to a phrase."""
    assert split_words("¡Señal  de ALTO!") == ("señal", "de", "alto")
    assert split_words(unicodedata.normalize("NFD", "정리 시간.")) == ("정리", "시간")


def test_every_word_of_the_korean_starter_is_known_to_the_korean_model() -> None:
    """None is left out of its grammar."""
    starter = parse_settings(starter_text("ko"), "ko")
    assert Grammar(starter.vocabulary(starter.plan()), korean_model()).lines
