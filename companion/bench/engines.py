"""What is compared: the engines as they are used, and the bare recognisers that they are built on."""

from collections.abc import Callable
from functools import partial
from importlib.util import find_spec
from pathlib import Path

from companion.bench.bare import BareEmbedding, BareKeyphrases, bare_classifier
from companion.bench.folder import Labelled
from companion.errors import CompanionError
from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.learning import bundled_costs, untaught
from companion.listening.detection.synthesiser import say
from companion.listening.detection.unenrolled_spotter import UnenrolledSpotter
from companion.listening.engines import Voice, choose, open_spotter, require_english
from companion.listening.spotter import NewSpotter
from companion.listening.voice.cues import learn_cue, synthetic_cue
from companion.listening.voice.enrolled_engine import learn_voice, new_spotter
from companion.listening.vosk.spotter import VoskSpotter, grammar_alone, model_of

Preparation = Callable[[], NewSpotter]
"""Learns or loads what an engine needs. Raises CompanionError when it can't hear these recordings."""


def preparations(labelled: Labelled, models: Path) -> dict[str, Preparation]:
    """Return every engine and bare recogniser under the name that the tables use.

    models: folder of speech models.
    """
    vocabulary, voice = labelled.vocabulary, Voice(models=models)
    return {
        "enrolled": partial(_enrolled, labelled),
        "synthetic voices": partial(_synthetic, vocabulary),
        "phonemes": partial(_phonemes, vocabulary),
        "bare key phrases": partial(_bare_keyphrases, vocabulary),
        "bare embedding": partial(_bare_embedding, labelled),
        "vosk": partial(_vosk, vocabulary, voice),
        "vosk grammar alone": partial(_vosk_grammar_alone, vocabulary, voice),
    }


def _enrolled(labelled: Labelled) -> NewSpotter:
    require_english(labelled.vocabulary, "enrolled")
    learnt = learn_voice(labelled.vocabulary, labelled.sounds)
    return new_spotter(labelled.vocabulary, learnt, lowest_log_odds=-30.0)


def _synthetic(vocabulary: Vocabulary) -> NewSpotter:
    """Return the unenrolled engine on what is bundled of each opener, else on what is learnt on the spot."""
    require_english(vocabulary, "synthetic voices")
    cues = [synthetic_cue(one, None) or learn_cue(one, say(one)) for one in vocabulary.openers]
    return partial(UnenrolledSpotter, vocabulary, [cue.detector for cue in cues], lowest_log_odds=-30.0)


def _phonemes(vocabulary: Vocabulary) -> NewSpotter:
    """Return the unenrolled engine as it is where no voice has said anything."""
    require_english(vocabulary, "phonemes")
    costs = bundled_costs()
    detectors = [untaught(one, costs) for one in vocabulary.openers]
    return partial(UnenrolledSpotter, vocabulary, detectors, lowest_log_odds=-30.0)


def _bare_keyphrases(vocabulary: Vocabulary) -> NewSpotter:
    require_english(vocabulary, BareKeyphrases.name)
    if find_spec("pocketsphinx") is None:
        raise CompanionError(
            "Pocketsphinx is not installed.", remedy="Install it with: pip install 'lesson-companion[bench]'"
        )
    return partial(BareKeyphrases, vocabulary)


def _bare_embedding(labelled: Labelled) -> NewSpotter:
    if labelled.vocabulary.cue is not None:
        raise CompanionError("It can't put a cue and a phrase together.")
    learnt = {phrase: bare_classifier(takes) for phrase, takes in labelled.sounds.items()}
    return partial(BareEmbedding, learnt)


def _vosk(vocabulary: Vocabulary, voice: Voice) -> NewSpotter:
    choose(vocabulary, "vosk", voice)
    model_of(vocabulary, voice)
    return partial(open_spotter, vocabulary, "vosk", voice)


def _vosk_grammar_alone(vocabulary: Vocabulary, voice: Voice) -> NewSpotter:
    choose(vocabulary, "vosk", voice)
    return partial(VoskSpotter, vocabulary, model_of(vocabulary, voice), grammar_alone)
