"""The unenrolled engine: hears phrases by their pronunciations, from the first day, with nobody's takes.

The cue is found by the phonemes that the network hears, and the command is chosen after it, both as the
enrolled engine does it; what is missing is the likeness to the teacher's own takes.
"""

from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.command_fit import CommandFit
from companion.listening.detection.enrolled_spotter import EnrolledSpotter
from companion.listening.detection.learning import bundled_costs, untaught, ways_after_cue
from companion.listening.engines import Voice, require_english, require_installed
from companion.listening.phonemes.pronunciation import phonemes
from companion.listening.spotter import Spotter


class PhonemeSpotter(EnrolledSpotter):
    """A `Spotter` over untaught detectors.

    Raises CompanionError for a phrase with a word that nobody knows how to say.
    """

    name = "phonemes"

    def __init__(self, vocabulary: Vocabulary) -> None:
        ways = ways_after_cue(vocabulary)
        others = bundled_costs()
        detectors = [untaught(opener, others) for opener in vocabulary.openers]
        super().__init__(vocabulary, detectors, CommandFit(ways) if ways else None)


def require(vocabulary: Vocabulary, voice: Voice) -> None:  # noqa: ARG001 - no voice is needed
    """Raise CompanionError unless the phrases are English that can be said and the network can run."""
    require_english(vocabulary, PhonemeSpotter.name)
    for said in (*vocabulary.openers, *vocabulary.phrases):
        phonemes(said)
    require_installed(PhonemeSpotter.name, "onnxruntime")


def open_spotter(vocabulary: Vocabulary, voice: Voice) -> Spotter:  # noqa: ARG001
    """Open a spotter for `vocabulary`."""
    return PhonemeSpotter(vocabulary)
