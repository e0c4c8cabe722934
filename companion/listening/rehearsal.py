"""What to expect after a rehearsal: each take left out once, and heard by what the others taught."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from companion.lesson.trends import share
from companion.listening.candidate import SAMPLE_RATE, Sound, Vocabulary
from companion.listening.enrolled import Learnt, opener
from companion.listening.learning import FALSE_ALARMS_PER_HOUR, FEWEST_TAKES, learn

_AROUND: Sound = np.zeros(SAMPLE_RATE, np.int16)


@dataclass(frozen=True, slots=True)
class Expectation:
    """How many of the left-out takes were missed."""

    phrase: str
    takes: int
    missed: int

    @property
    def sentence(self) -> str:
        """Return what to expect, in plain words, with the interval that so few takes allow."""
        part = share(self.missed, self.takes)
        return (
            f"“{self.phrase}”: {self.missed} of {self.takes} takes missed when left out, so between"
            f" {part.low:.0%} and {part.high:.0%} missed in a quiet room; more in a noisy one."
            f" Set for {FALSE_ALARMS_PER_HOUR:g} false marks an hour of other talk."
        )


def expectation(phrase: str, takes: Sequence[Sound], talk: Sequence[Sound]) -> Expectation | None:
    """Leave each take out once and listen for it; None where too few would be left to learn from."""
    if len(takes) <= FEWEST_TAKES:
        return None
    missed = 0
    for left_out, take in enumerate(takes):
        others = [other for at, other in enumerate(takes) if at != left_out]
        detector = learn(phrase, others, talk)
        spotter = opener(Vocabulary((phrase,)), Learnt((detector,), {}))()
        heard = spotter.hear(np.concatenate((_AROUND, take, _AROUND))) + spotter.finish()
        missed += not any(candidate.fired for candidate in heard)
    return Expectation(phrase, len(takes), missed)
