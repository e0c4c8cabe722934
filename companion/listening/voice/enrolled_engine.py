"""Opens the enrolled engine for a vocabulary and a voice."""

from collections.abc import Sequence
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.command_fit import CommandFit
from companion.listening.detection.enrolled_spotter import NEAR_MISS_LOG_ODDS, EnrolledSpotter
from companion.listening.detection.learning import hear_talk, learn, other_speech, ways_after_cue
from companion.listening.detection.takes import Takes, read_takes
from companion.listening.engines import Voice, require_english, require_installed
from companion.listening.microphone import files as sound
from companion.listening.sound import Sound
from companion.listening.spotter import NewSpotter, Spotter
from companion.listening.voice.check import VoiceCheck
from companion.listening.voice.cues import synthetic_stretches
from companion.listening.voice.learnt import Learnt
from companion.listening.voice.speaker import Speaker, one_speaker, take_speaker


def learn_voice(
    vocabulary: Vocabulary, takes: Takes, talk: Sequence[Sound] = (), folder: Path | None = None
) -> Learnt:
    """Learn from takes (those of the cue under the cue's own text) and from talk of the same voice.

    The takes are added to what was learnt from synthetic voices, if it is bundled or kept in `folder`. About
    ten seconds for each detector. Raises CompanionError when there are too few takes.
    """
    others = other_speech(hear_talk(talk))
    detectors = tuple(
        learn(opener, takes.get(opener, ()), others, synthetic=synthetic_stretches(opener, folder))
        for opener in vocabulary.openers
    )
    said = [take for opener in vocabulary.openers for take in takes.get(opener, ())]
    return Learnt(detectors, ways_after_cue(vocabulary), one_speaker([take_speaker(take) for take in said]))


def new_spotter(
    vocabulary: Vocabulary, learnt: Learnt, *, lowest_log_odds: float = NEAR_MISS_LOG_ODDS
) -> NewSpotter:
    """Return a function that opens a new spotter on what was learnt.

    lowest_log_odds: what is less likely than this is not even told as a near miss.
    """
    detectors = [detector for detector in learnt.detectors if detector.phrase in vocabulary.openers]
    ways = {phrase: learnt.commands[phrase] for phrase in vocabulary.phrases} if vocabulary.cue else {}

    def open_new() -> Spotter:
        commands = CommandFit(ways) if ways else None
        spotter = EnrolledSpotter(vocabulary, detectors, commands, lowest_log_odds=lowest_log_odds)
        return VoiceCheck(spotter, learnt.speaker) if learnt.speaker else spotter

    return open_new


def require(vocabulary: Vocabulary, voice: Voice) -> None:
    """Raise CompanionError unless there is a voice to learn from or one learnt for these phrases."""
    require_english(vocabulary, EnrolledSpotter.name)
    require_installed(EnrolledSpotter.name, "onnxruntime")
    if voice.takes is None and _rehearsed(vocabulary, voice) is None:
        raise CompanionError(
            _("Your voice has not been learnt for these phrases."),
            remedy=_("Rehearse with: companion rehearse"),
        )


def open_spotter(vocabulary: Vocabulary, voice: Voice) -> Spotter:
    """Open a spotter on the takes in `voice.takes` and on `voice.talk`, else on what a rehearsal kept.

    Raises CompanionError when there are no takes, or too few.
    """
    learnt = _rehearsed(vocabulary, voice)
    if voice.takes is not None:
        takes = read_takes(voice.takes, vocabulary)
        learnt = learn_voice(vocabulary, takes, [sound.whole(path) for path in voice.talk], voice.features)
    if learnt is None:
        raise CompanionError(
            _("The enrolled engine needs takes to learn from."), remedy=_("Give --takes FOLDER.")
        )
    return new_spotter(vocabulary, learnt)()


def learnt_speaker(vocabulary: Vocabulary, voice: Voice) -> Speaker | None:
    """Return what the teacher sounds like, if that was learnt for these phrases."""
    learnt = _rehearsed(vocabulary, voice)
    return learnt.speaker if learnt else None


def _rehearsed(vocabulary: Vocabulary, voice: Voice) -> Learnt | None:
    from companion.listening.voice.files import recall  # noqa: PLC0415 - it keeps what is defined here

    learnt = recall(voice.features) if voice.features else None
    return learnt if learnt is not None and learnt.fits(vocabulary) else None
