"""The unenrolled engine: hears phrases from the first day, with nobody's takes.

The cue is found by the phonemes that the network hears and, where synthetic voices have said it, by its
likeness to them; the command is chosen after it as the enrolled engine does it. No voice is refused.
"""

from collections.abc import Sequence

from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.command_fit import CommandFit
from companion.listening.detection.detector import Detector
from companion.listening.detection.enrolled_spotter import NEAR_MISS_LOG_ODDS, EnrolledSpotter
from companion.listening.detection.learning import ways_after_cue


class UnenrolledSpotter(EnrolledSpotter):
    """A `Spotter` over detectors that know no teacher's voice.

    Raises CompanionError for a phrase with a word that nobody knows how to say.
    """

    name = "phonemes"

    def __init__(
        self,
        vocabulary: Vocabulary,
        detectors: Sequence[Detector],
        *,
        lowest_log_odds: float = NEAR_MISS_LOG_ODDS,
    ) -> None:
        ways = ways_after_cue(vocabulary)
        commands = CommandFit(ways) if ways else None
        super().__init__(vocabulary, detectors, commands, lowest_log_odds=lowest_log_odds)
