"""Reasons are kept in English, and read in the language that is spoken."""

import pytest

from companion.language import speaking
from companion.lesson.reason import reason_words
from companion.listening.detection import enrolled_spotter
from companion.listening.detection.finds import Find
from companion.listening.voice import check
from companion.listening.vosk import opinion
from companion.listening.vosk.opinion import Opinion

GIVEN = {
    check.REASON,
    "no command followed",
    "no command was clear after the cue",
    "the grammar alone",
    *(
        reason
        for ratio in (-3.0, 0.0, 3.0)
        for margin in (0.0, 2.0)
        for reason in opinion.reasons(Opinion(ratio, margin, 0.8, 0.9, "next {week}, maybe"))
    ),
    *(
        reason
        for fit in (-20.0, -10.0, 0.0)
        for alike in (-5.0, 0.0, 5.0)
        for reason in enrolled_spotter.reasons(Find("praise", 0, 0, 0.0, fit, alike))
    ),
}
"""All that engines give."""


@pytest.mark.parametrize("code", ["es", "ko"])
def test_every_reason_of_an_engine_is_read_in_the_language_that_is_spoken(code: str) -> None:
    """With the values that stand in it, and none in English."""
    with speaking(code):
        read = {reason: reason_words(reason) for reason in GIVEN}
    assert [reason for reason, words in read.items() if words == reason] == []
    heard = next(words for reason, words in read.items() if reason.startswith("free speech was"))
    assert "next {week}, maybe" in heard
    assert "80%" in heard


def test_in_english_it_is_what_the_log_keeps() -> None:
    """So is one that nobody knows any more, in every language."""
    assert {reason_words(reason) for reason in GIVEN} == GIVEN
    with speaking("ko"):
        assert reason_words("an older reason") == "an older reason"
