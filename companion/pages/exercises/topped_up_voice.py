"""The voice learnt again with what reviews confirmed and dropped: a button, and what came of it."""

from functools import partial
from pathlib import Path

from companion.lesson.vocabulary import Vocabulary
from companion.listening.rehearsal.taught import teach_again
from companion.pages.exercises.learning_apart import LearningApart


class ToppedUpVoice:
    """Begins to learn at once. No microphone is open."""

    step = "rehearsal"
    of_reviews = True

    def __init__(self, vocabulary: Vocabulary, folder: Path) -> None:
        self.learning = LearningApart(partial(teach_again, vocabulary, folder))

    @property
    def stamp(self) -> str:
        """What changes when it is over."""
        return f"reviews-{self.learning.done}-{self.learning.is_over}"

    @property
    def level_dbfs(self) -> float | None:
        """No microphone is open."""
        return None

    def rest(self) -> None:
        """Go on all the same: no microphone is open."""
