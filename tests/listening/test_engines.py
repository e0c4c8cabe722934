"""The choice of an engine."""

import pytest

from companion.errors import CompanionError
from companion.listening.candidate import Vocabulary
from companion.listening.engines import engine_names, open_spotter


def test_the_dictionary_engine_is_always_there_for_english() -> None:
    """Without a trained voice and without a model, English phrases are listened for by the dictionary."""
    assert open_spotter(Vocabulary(("cleanup",), language="en-GB"), "pocketsphinx").name == "pocketsphinx"
    assert {"auto", "pocketsphinx"} <= set(engine_names())


def test_a_language_that_no_engine_understands_is_told() -> None:
    """Phrases in a language without a model get an error that says what to do."""
    with pytest.raises(CompanionError, match="language “sw”"):
        open_spotter(Vocabulary(("usafi",), language="sw"))


@pytest.mark.parametrize(
    ("vocabulary", "engine", "what"),
    [
        (Vocabulary(()), "auto", "no phrase"),
        (Vocabulary(("cleanup",)), "crystal ball", "no engine called “crystal ball”"),
        (Vocabulary(("usafi",), language="sw"), "pocketsphinx", "lacks something"),
    ],
)
def test_what_cannot_be_opened_is_told(vocabulary: Vocabulary, engine: str, what: str) -> None:
    """No phrases, an unknown engine and one that does not fit are each told plainly."""
    with pytest.raises(CompanionError, match=what):
        open_spotter(vocabulary, engine)
