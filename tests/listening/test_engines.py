"""The choice of an engine."""

from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.lesson.vocabulary import Vocabulary
from companion.listening.engines import Voice, choose, engine_names, hearable, open_spotter
from tests.listening.memory import packages_while_listening
from tests.models.archives import FILES, write_model


def test_the_phoneme_engine_is_always_there_for_english() -> None:
    """Without a trained voice and without a model, English phrases are listened for by their phonemes."""
    assert open_spotter(Vocabulary(("cleanup",), language="en-GB")).name == "phonemes"
    assert {"auto", "phonemes"} <= set(engine_names())


def test_listening_holds_no_learner_in_memory(tmp_path: Path) -> None:
    """What only learns a voice or counts chances is loaded where that is done."""
    loaded = packages_while_listening("phonemes", tmp_path)
    assert "onnxruntime" in loaded
    assert "scipy" not in loaded


def test_a_language_that_no_engine_understands_is_told() -> None:
    """Phrases in a language without a model get an error that says what to do."""
    with pytest.raises(CompanionError, match="language “sw”"):
        open_spotter(Vocabulary(("usafi",), language="sw"))


@pytest.mark.parametrize(
    ("vocabulary", "engine", "what"),
    [
        (Vocabulary(()), "auto", "no phrase"),
        (Vocabulary(("cleanup",)), "crystal ball", "no engine called “crystal ball”"),
        (Vocabulary(("usafi",), language="sw"), "phonemes", "understands English only"),
    ],
)
def test_what_cannot_be_opened_is_told(vocabulary: Vocabulary, engine: str, what: str) -> None:
    """No phrases, an unknown engine and one that does not fit are each told plainly."""
    with pytest.raises(CompanionError, match=what):
        open_spotter(vocabulary, engine)


def test_a_phrase_that_can_not_be_heard_takes_no_other_with_it() -> None:
    """It is left out with the reason; a cue that can't be heard leaves nothing."""
    found = hearable(Vocabulary(("praise", "日本", "cleanup"), cue="velvet compass"))
    assert found.vocabulary == Vocabulary(("praise", "cleanup"), cue="velvet compass")
    assert "日本" in found.unheard["日本"]
    assert open_spotter(found.vocabulary).name == "phonemes"
    with pytest.raises(CompanionError, match="日本"):
        hearable(Vocabulary(("praise", "cleanup"), cue="日本"))


def test_model_that_lacks_a_word_is_passed_over_and_says_which(tmp_path: Path) -> None:
    """By itself another engine is taken and the lesson is heard; asked for by name, Vosk names the word."""
    words = {"graph/words.txt": b"<eps> 0\nvelvet 1\n"}
    write_model(tmp_path / "vosk-model-small-en-us-0.15", FILES | words)
    vocabulary, voice = Vocabulary(("velvet compass",)), Voice(models=tmp_path)
    assert choose(vocabulary, voice=voice) == "phonemes"
    with pytest.raises(CompanionError, match="doesn't know “compass”"):
        choose(vocabulary, "vosk", voice)
    assert choose(Vocabulary(("velvet",)), voice=voice) == "vosk"


def test_half_a_model_is_passed_over(tmp_path: Path) -> None:
    """A model folder with a file missing stops no lesson that another engine can hear."""
    write_model(tmp_path / "vosk-model-small-en-us-0.15", {"am/final.mdl": FILES["am/final.mdl"]})
    assert choose(Vocabulary(("cleanup",)), voice=Voice(models=tmp_path)) == "phonemes"
