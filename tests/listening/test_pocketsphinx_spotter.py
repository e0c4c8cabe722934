"""The dictionary engine, on its real model and on sound."""

from pathlib import Path

import numpy as np
import pytest

from companion.errors import CompanionError
from companion.lesson.vocabulary import Vocabulary
from companion.listening.candidate import Candidate
from companion.listening.microphone.files import whole
from companion.listening.pocketsphinx_spotter import PocketsphinxSpotter
from companion.listening.sound import Sound

SOUNDS = Path(__file__).parent / "sounds"
COMMANDS = (
    "praise",
    "reminder",
    "take it back",
    "next phase",
    "cleanup",
    "table four reminder",
    "table four praise",
)
WITH_CUE = Vocabulary(COMMANDS, cue="velvet compass")


def heard(vocabulary: Vocabulary, sound: Sound, block: int = 1_600) -> list[Candidate]:
    """Return all candidates of a new spotter that hears the sound in blocks."""
    spotter = PocketsphinxSpotter(vocabulary)
    found = [c for at in range(0, len(sound), block) for c in spotter.hear(sound[at : at + block])]
    return found + spotter.finish()


def fired(candidates: list[Candidate]) -> list[str]:
    """Return the phrases that would become marks."""
    return [candidate.phrase for candidate in candidates if candidate.fired]


def test_a_command_after_the_cue_fires_where_it_was_said() -> None:
    """A quiet cue and command fire once, with begin and end in their place and the decision soon after."""
    (found,) = heard(WITH_CUE, whole(SOUNDS / "quiet_praise.flac"))
    assert found.phrase == "praise"
    assert found.fired
    assert 450 <= found.begin_ms <= 750
    assert 1_850 <= found.end_ms <= 2_250
    assert found.end_ms < found.decided_ms <= found.end_ms + 900
    assert found.engine == "pocketsphinx"


def test_a_pause_inside_a_command_does_not_hide_it() -> None:
    """A command of several words is told from its likeness, with a comma's pause before its last word."""
    found = heard(WITH_CUE, whole(SOUNDS / "two_commands.flac"))
    assert "table four reminder" in fired(found)
    assert "table four praise" not in fired(found)


def test_the_length_of_the_blocks_changes_nothing() -> None:
    """The same sound gives the same candidates in blocks of a hundredth of a second and of one second."""
    sound = whole(SOUNDS / "quiet_praise.flac")
    small, large = (heard(WITH_CUE, sound, block) for block in (160, 16_000))
    assert [(c.phrase, c.begin_ms, c.fired) for c in small] == [
        (c.phrase, c.begin_ms, c.fired) for c in large
    ]


@pytest.mark.parametrize("name", ["ordinary_talk", "no_command"])
def test_talk_does_not_fire(name: str) -> None:
    """Neither ordinary talk nor the cue's words without a command become marks."""
    assert fired(heard(WITH_CUE, whole(SOUNDS / f"{name}.flac"))) == []


def test_a_phrase_without_a_cue_is_found() -> None:
    """Where there is no cue, the phrase itself is searched for, and another in the same place loses."""
    vocabulary = Vocabulary(("velvet compass praise", "garden bell"))
    assert fired(heard(vocabulary, whole(SOUNDS / "quiet_praise.flac"))) == ["velvet compass praise"]


def test_an_hour_of_silence_gives_nothing() -> None:
    """An hour without sound has no candidates."""
    spotter = PocketsphinxSpotter(WITH_CUE)
    minute = np.zeros(60 * 16_000, np.int16)
    assert [found for _ in range(60) for found in spotter.hear(minute)] + spotter.finish() == []


def test_a_word_that_nobody_can_say_is_refused() -> None:
    """A phrase that the engine could never hear is an error that names the word, and not silence."""
    with pytest.raises(CompanionError, match="日本"):
        PocketsphinxSpotter(Vocabulary(("日本",)))


def test_a_word_outside_the_dictionary_is_listened_for() -> None:
    """A word that only its letters tell how to say can be a command."""
    assert heard(Vocabulary(("zorbit",), cue="velvet compass"), whole(SOUNDS / "ordinary_talk.flac")) == []
