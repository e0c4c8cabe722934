"""What was learnt of a voice."""

from collections.abc import Mapping
from dataclasses import dataclass

from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.detector import Detector
from companion.listening.phonemes.search import Chain
from companion.listening.voice.speaker import Speaker


@dataclass(frozen=True, slots=True)
class Learnt:
    """What a rehearsal keeps of a voice: numbers and no sound."""

    detectors: tuple[Detector, ...]
    """Of the cue, or of each phrase where there is no cue."""
    commands: Mapping[str, tuple[Chain, ...]]
    """The ways in which each command is said; empty where there is no cue."""
    speaker: Speaker | None = None
    """Whose voice it is; None where the takes do not tell, and everybody is listened to."""

    def fits(self, vocabulary: Vocabulary) -> bool:
        """Say whether this was learnt for these very phrases."""
        learnt = {detector.phrase for detector in self.detectors}
        return learnt >= set(vocabulary.openers) and (
            not vocabulary.cue or set(self.commands) >= set(vocabulary.phrases)
        )
