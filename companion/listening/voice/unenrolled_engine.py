"""Opens the unenrolled engine: for the first day, and for whoever never rehearses."""

import numpy as np

from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.learning import bundled_costs, untaught
from companion.listening.detection.unenrolled_spotter import UnenrolledSpotter
from companion.listening.engines import Voice, require_english, require_installed
from companion.listening.phonemes.pronunciation import phonemes
from companion.listening.spotter import Spotter
from companion.listening.voice.cues import synthetic_cue


def require(vocabulary: Vocabulary, voice: Voice) -> None:  # noqa: ARG001 - no voice is needed
    """Raise CompanionError unless the phrases are English that can be said and the network can run."""
    require_english(vocabulary, UnenrolledSpotter.name)
    for said in (*vocabulary.openers, *vocabulary.phrases):
        phonemes(said)
    require_installed(UnenrolledSpotter.name, "onnxruntime")


def open_spotter(vocabulary: Vocabulary, voice: Voice) -> Spotter:
    """Open a spotter for `vocabulary`: on what synthetic voices taught, else on pronunciations alone.

    Raises CompanionError for a phrase with a word that nobody knows how to say, and for a damaged file.
    """
    cues = {opener: synthetic_cue(opener, voice.features) for opener in vocabulary.openers}
    others = bundled_costs() if None in cues.values() else np.zeros((0, 0, 0), np.float32)
    detectors = [cue.detector if cue else untaught(opener, others) for opener, cue in cues.items()]
    return UnenrolledSpotter(vocabulary, detectors)


def untaught_openers(vocabulary: Vocabulary, voice: Voice) -> tuple[str, ...]:
    """Return what no voice has said, real or synthetic, and is listened for by its pronunciation alone."""
    return tuple(opener for opener in vocabulary.openers if synthetic_cue(opener, voice.features) is None)
