"""What a spotter finds."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Candidate:
    """Sound that might have been a phrase.

    Times are milliseconds since the first sample that the spotter was given; a listener adds the
    session's own offset. A fired candidate becomes a mark, any other is a near miss.
    """

    phrase: str
    """Exactly one of the vocabulary's phrases (without the cue); "" for a near miss of the cue alone."""
    begin_ms: int
    """Where the spoken form begins (the cue, where there is one)."""
    end_ms: int
    decided_ms: int
    """How much sound had been heard when the decision fell."""
    confidence: float
    """Calibrated probability, 0 to 1, that the phrase was said by the teacher as a command."""
    fired: bool
    engine: str
    reasons: tuple[str, ...] = ()
    """Plain words for the review: why it fired, or why it did not."""
