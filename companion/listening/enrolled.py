"""Opens the enrolled engine for a vocabulary and a voice."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from importlib.util import find_spec

from companion.errors import CompanionError
from companion.listening import sound
from companion.listening.candidate import Sound, Spotter, Vocabulary
from companion.listening.command_fit import CommandFit
from companion.listening.detector import Detector
from companion.listening.engines import Voice, require_english
from companion.listening.enrolled_spotter import NEAR_MISS_LOG_ODDS, EnrolledSpotter
from companion.listening.enrolment import Takes, read_takes
from companion.listening.keyword_fit import Chain
from companion.listening.learning import hear_talk, learn, other_speech, ways_after_cue
from companion.listening.speaker import Speaker, one_speaker, take_speaker
from companion.listening.voice_check import VoiceCheck

_NEEDED = ("onnxruntime", "sklearn")


@dataclass(frozen=True, slots=True)
class Learnt:
    """What a rehearsal keeps of a voice: numbers from which no sound can be played."""

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


def learn_voice(vocabulary: Vocabulary, takes: Takes, talk: Sequence[Sound] = ()) -> Learnt:
    """Learn from takes (those of the cue under the cue's own text) and from talk of the same voice.

    About ten seconds for each detector. Raises CompanionError when there are too few takes.
    """
    others = other_speech(hear_talk(talk))
    detectors = tuple(learn(opener, takes.get(opener, ()), others) for opener in vocabulary.openers)
    said = [take for opener in vocabulary.openers for take in takes.get(opener, ())]
    return Learnt(detectors, ways_after_cue(vocabulary), one_speaker([take_speaker(take) for take in said]))


def opener(
    vocabulary: Vocabulary, learnt: Learnt, *, lowest_log_odds: float = NEAR_MISS_LOG_ODDS
) -> Callable[[], Spotter]:
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
    require_installed(EnrolledSpotter.name, *_NEEDED)
    if voice.takes is None and _rehearsed(vocabulary, voice) is None:
        raise CompanionError(
            "Your voice has not been learnt for these phrases.", remedy="Rehearse with: companion rehearse"
        )


def open_spotter(vocabulary: Vocabulary, voice: Voice) -> Spotter:
    """Open a spotter on the takes in `voice.takes` and on `voice.talk`, else on what a rehearsal kept.

    Raises CompanionError when there are no takes, or too few.
    """
    learnt = _rehearsed(vocabulary, voice)
    if voice.takes is not None:
        takes = read_takes(voice.takes, vocabulary)
        learnt = learn_voice(vocabulary, takes, [sound.whole(path) for path in voice.talk])
    if learnt is None:
        raise CompanionError("The enrolled engine needs takes to learn from.", remedy="Give --takes FOLDER.")
    return opener(vocabulary, learnt)()


def learnt_speaker(vocabulary: Vocabulary, voice: Voice) -> Speaker | None:
    """Return what the teacher sounds like, if that was learnt for these phrases."""
    learnt = _rehearsed(vocabulary, voice)
    return learnt.speaker if learnt else None


def _rehearsed(vocabulary: Vocabulary, voice: Voice) -> Learnt | None:
    from companion.listening.voice_files import recall  # noqa: PLC0415 - it keeps what is defined here

    learnt = recall(voice.features) if voice.features else None
    return learnt if learnt is not None and learnt.fits(vocabulary) else None


def require_installed(engine: str, *modules: str) -> None:
    """Raise CompanionError unless all these modules can be imported; import none of them."""
    try:
        missing = [name for name in modules if find_spec(name) is None]
    except ModuleNotFoundError as error:
        missing = [str(error.name)]
    if missing:
        raise CompanionError(
            f"The engine “{engine}” needs {', '.join(missing)}.", remedy="Install lesson-companion anew."
        )
