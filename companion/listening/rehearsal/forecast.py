"""What to expect after a rehearsal, found by leaving out: what is listened to was never learnt from.

Takes and talk are cut into the same few parts; a detector learns from all parts but one and hears that one.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import fmean

import numpy as np
from numpy.typing import NDArray

from companion.language import _, decimal, later, many
from companion.lesson.chance import rate_interval, share
from companion.lesson.vocabulary import Vocabulary
from companion.listening.candidate import Candidate
from companion.listening.detection.detector import Detector, scores
from companion.listening.detection.learning import FEWEST_TAKES, MOVING_WINDOW, bundled_others
from companion.listening.detection.takes import Takes, speech_in
from companion.listening.phonemes.acoustic_model import WINDOW_FRAMES, Looks, seconds, together
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.spotter import Spotter, hear_whole
from companion.listening.voice.cues import synthetic_cue, synthetic_stretches
from companion.listening.voice.enrolled_engine import new_spotter
from companion.listening.voice.features import VoiceFeatures
from companion.listening.voice.learnt import Learnt
from companion.listening.voice.speaker import Speaker, one_speaker, own_log_odds
from companion.listening.voice.top_up import learn_from, only, takes_of
from companion.log.week_rows import bounded_odds

PARTS = 8
LESSON_HOURS = 20
"""Hours of lessons in a week, to say false marks a week."""
SEVERAL_VOICES = later(
    "Your takes don't sound like one voice, so that somebody else who says the phrase can't be told from you."
)

_AROUND: Sound = np.zeros(SAMPLE_RATE, np.int16)
_BEFORE_COMMAND: Sound = np.zeros(SAMPLE_RATE // 8, np.int16)


@dataclass(frozen=True, slots=True)
class Missed:
    """How many left-out takes of a phrase were missed."""

    phrase: str
    missed: int
    takes: int

    @property
    def sentence(self) -> str:
        """Return what to expect, with the interval (Wilson's, 95 %) that so few takes allow."""
        part = share(self.missed, self.takes)
        if self.missed == 0:
            return _(
                "“{phrase}”: probably fewer than {most} missed in a quiet room, more in a noisy one "
                "({missed} of {takes} takes, each left out once).",
                phrase=self.phrase,
                most=_one_in(part.high),
                missed=self.missed,
                takes=self.takes,
            )
        return _(
            "“{phrase}”: about {about} missed, likely between {least} and {most} in a quiet room, more in a "
            "noisy one ({missed} of {takes} takes, each left out once).",
            phrase=self.phrase,
            about=_one_in(part.value),
            least=_one_in(part.low),
            most=_one_in(part.high),
            missed=self.missed,
            takes=self.takes,
        )


@dataclass(frozen=True, slots=True)
class Mixup:
    """How many takes of a phrase were taken for another one, or were not clear (`taken_for` is empty)."""

    phrase: str
    taken_for: str
    times: int
    takes: int

    @property
    def sentence(self) -> str:
        """Return the advice."""
        told = {"phrase": self.phrase, "times": self.times, "takes": self.takes}
        if not self.taken_for:
            return _(
                "“{phrase}” is not always clear ({times} of {takes} times): say it more slowly, or choose "
                "another word.",
                **told,
            )
        if 2 * self.times >= self.takes:
            return _(
                "“{phrase}” is often taken for “{other}” ({times} of {takes} times): choose another word "
                "for one of them.",
                other=self.taken_for,
                **told,
            )
        return _(
            "“{phrase}” is sometimes taken for “{other}” ({times} of {takes} times): choose another word "
            "for one of them.",
            other=self.taken_for,
            **told,
        )


@dataclass(frozen=True, slots=True)
class FalseMarks:
    """How often a phrase, or the cue, was heard in talk that was not learnt from and does not hold it."""

    count: int
    hours: float
    with_command: bool = False
    """Whether a command has to follow before there is a mark."""

    @property
    def sentence(self) -> str:
        """Return the honest upper limit (exact Poisson, 95 %), for a window that moves along."""
        highest = rate_interval(self.count, self.hours)[1] * MOVING_WINDOW
        week = round(highest * LESSON_HOURS) or 1
        told = {
            "times": many("{count} time", "{count} times", self.count) if self.count else _("never"),
            "length": _length(self.hours),
            "marks": week,
            "hours": LESSON_HOURS,
        }
        if self.with_command:
            return _(
                "Falsely heard {times} in {length} of other talk that was not learnt from: no more than "
                "about {marks} false marks in {hours} hours of talk, about a week, and most of them without "
                "a command after the cue make none. A longer recording of your talk (--talk) says it more "
                "exactly.",
                **told,
            )
        return _(
            "Falsely heard {times} in {length} of other talk that was not learnt from: no more than about "
            "{marks} false marks in {hours} hours of talk, about a week. A longer recording of your talk "
            "(--talk) says it more exactly.",
            **told,
        )


@dataclass(frozen=True, slots=True)
class OtherVoices:
    """How many of the synthetic voices that say a phrase are like the teacher's, as a whole."""

    phrase: str
    taken: int
    heard: int

    @property
    def sentence(self) -> str:
        """Return what to expect when somebody else says it."""
        told = {"heard": self.heard, "phrase": self.phrase}
        if not self.taken:
            return _("None of {heard} synthetic voices that say “{phrase}” sounds like yours.", **told)
        return many(
            "Of {heard} synthetic voices that say “{phrase}”, {count} sounds like yours as a whole. In a "
            "lesson each moment of the phrase is compared with your takes too.",
            "Of {heard} synthetic voices that say “{phrase}”, {count} sound like yours as a whole. In a "
            "lesson each moment of the phrase is compared with your takes too.",
            self.taken,
            **told,
        )


@dataclass(frozen=True, slots=True)
class Forecast:
    """What to expect in the lessons to come."""

    missed: tuple[Missed, ...]
    mixups: tuple[Mixup, ...]
    false_marks: FalseMarks | None
    knows_voice: bool = True
    """Whether other voices that say the phrase can be told from the teacher's."""
    other_voices: tuple[OtherVoices, ...] = ()
    rehearsed_odds: float | None = None
    """How surely commands were heard (mean log odds); None where none was said."""

    @property
    def sentences(self) -> tuple[str, ...]:
        """Return it in plain words."""
        false_marks = (self.false_marks,) if self.false_marks else ()
        known = (*self.missed, *self.mixups, *false_marks, *self.other_voices)
        told = tuple(one.sentence for one in known)
        return told if self.knows_voice else (*told, _(SEVERAL_VOICES))


def foretell(
    vocabulary: Vocabulary,
    learnt: Learnt,
    takes: Takes,
    features: VoiceFeatures,
    folder: Path | None = None,
    *,
    on_part: Callable[[float], None] = lambda _done: None,
) -> Forecast:
    """Return what to expect of `learnt`, which was learnt from `features`, which are those of `takes`.

    folder: where cues learnt from synthetic voices are kept. on_part: called with the share (0 to 1) that is
    done. Phrases with too few takes are left out.
    """
    phrases = [d.phrase for d in learnt.detectors if len(takes.get(d.phrase, ())) > FEWEST_TAKES]
    bundled = bundled_others()
    own = features.talk or only(bundled, np.zeros(len(bundled.costs), bool))
    missed: dict[str, int] = dict.fromkeys(phrases, 0)
    false, windows = 0, 0
    for at, phrase in enumerate(phrases):
        said = takes_of(phrase, features)
        synthetic = synthetic_stretches(phrase, folder)
        parts = min(PARTS, len(said))
        for part in range(parts):
            rest = [take for number, take in enumerate(said) if number % parts != part]
            bundled_out, own_out = (
                _part_of(len(bundled.costs), part, parts),
                _part_of(len(own.costs), part, parts),
            )
            learn_against = together([only(bundled, ~bundled_out), only(own, ~_with_neighbours(own_out))])
            detector = learn_from(phrase, rest, learn_against, synthetic)
            speaker = one_speaker([take.speaker for take in rest])
            missed[phrase] += sum(
                not any(found.fired for found in hear_whole(_alone(detector, speaker), _padded(take)))
                for take in takes[phrase][part::parts]
            )
            # Windows of own talk overlap by half: every second one is all of it.
            for others in (only(bundled, bundled_out), only(own, own_out & _every_second(len(own.costs)))):
                false += _false_alarms(detector, others)
                windows += len(others.costs)
            on_part((at + (part + 1) / parts) / len(phrases))
    said_after_cue = commands_said(vocabulary, learnt, takes)
    hours = windows / max(1, len(phrases)) * seconds(WINDOW_FRAMES) / 3600
    return Forecast(
        tuple(Missed(phrase, count, len(takes[phrase])) for phrase, count in missed.items()),
        mixups(said_after_cue),
        FalseMarks(false, hours, with_command=bool(vocabulary.cue)) if phrases else None,
        learnt.speaker is not None,
        other_voices(vocabulary, learnt.speaker, folder) if learnt.speaker else (),
        rehearsed_odds(said_after_cue),
    )


def other_voices(
    vocabulary: Vocabulary, speaker: Speaker, folder: Path | None = None
) -> tuple[OtherVoices, ...]:
    """Return how many synthetic voices are like the teacher's, for each phrase that they have said."""
    said = {opener: synthetic_cue(opener, folder) for opener in vocabulary.openers}
    return tuple(
        OtherVoices(opener, sum(own_log_odds(speaker, voice) >= 0 for voice in cue.voices), len(cue.voices))
        for opener, cue in said.items()
        if cue is not None
    )


CommandsSaid = Mapping[str, Sequence[Sequence[Candidate]]]
"""By command, what was found in each of its takes."""


def commands_said(vocabulary: Vocabulary, learnt: Learnt, takes: Takes) -> CommandsSaid:
    """Return what is made of each command's takes; nothing without a cue.

    They are said after takes of the cue and go the way that they go in a lesson. Commands are known from the
    dictionary, not from takes, so that each take is left out.
    """
    cue = takes.get(vocabulary.cue or "", ())
    if not cue:
        return {}
    open_spotter = new_spotter(vocabulary, learnt)
    return {
        phrase: [
            hear_whole(open_spotter(), _after_cue(cue[at % len(cue)], take))
            for at, take in enumerate(takes.get(phrase, ()))
        ]
        for phrase in vocabulary.phrases
    }


def rehearsed_odds(said: CommandsSaid) -> float | None:
    """Return the mean log odds of the commands that were found: lessons are compared with it."""
    sure = [
        bounded_odds(max(one.confidence for one in found if one.phrase == phrase))
        for phrase, of_takes in said.items()
        for found in of_takes
        if any(one.phrase == phrase for one in found)
    ]
    return fmean(sure) if sure else None


def mixups(said: CommandsSaid) -> tuple[Mixup, ...]:
    """Return which commands are taken for which others, the most frequent first."""
    found: list[Mixup] = []
    for phrase, of_takes in said.items():
        taken = [_taken_for(phrase, heard) for heard in of_takes]
        found += [
            Mixup(phrase, other, taken.count(other), len(of_takes))
            for other in dict.fromkeys(taken)
            if other is not None and other != phrase
        ]
    return tuple(sorted(found, key=lambda mixup: -mixup.times / mixup.takes))


def voice_above_room(takes: Takes, room: Sound) -> str:
    """Return how far the voice stands out of the room, in plain words; empty where the room is unknown."""
    spoken = [take[slice(*speech_in(take))] for said in takes.values() for take in said]
    if not spoken or not len(room):
        return ""
    above = float(np.median([_power_db(take) for take in spoken])) - _power_db(room)
    if above < 10:
        return _(
            "Your voice is only {above} dB above the room: come nearer to the microphone.",
            above=f"{above:.0f}",
        )
    if above > 20:
        return _("Your voice is {above} dB above the room: that is plenty.", above=f"{above:.0f}")
    return _("Your voice is {above} dB above the room.", above=f"{above:.0f}")


def _taken_for(phrase: str, heard: Sequence[Candidate]) -> str | None:
    """Return the command that was heard, empty where it was not clear, None where the cue was missed."""
    fired = [found.phrase for found in heard if found.fired]
    if phrase in fired or not heard:
        return phrase if fired else None
    return fired[0] if fired else ""


def _after_cue(cue: Sound, command: Sound) -> Sound:
    """Return a take of the cue with a take of a command behind it."""
    cue_end, command_begin = speech_in(cue)[1], speech_in(command)[0]
    return np.concatenate((_AROUND, cue[:cue_end], _BEFORE_COMMAND, command[command_begin:], _AROUND))


def _alone(detector: Detector, speaker: Speaker | None) -> Spotter:
    return new_spotter(Vocabulary((detector.phrase,)), Learnt((detector,), {}, speaker))()


def _part_of(windows: int, part: int, parts: int) -> NDArray[np.bool_]:
    return np.asarray(np.arange(windows) * parts // max(1, windows) == part)


def _with_neighbours(chosen: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Add the windows that overlap the chosen ones."""
    more = chosen.copy()
    more[1:] |= chosen[:-1]
    more[:-1] |= chosen[1:]
    return more


def _every_second(windows: int) -> NDArray[np.bool_]:
    return np.asarray(np.arange(windows) % 2 == 0)


def _false_alarms(detector: Detector, others: Looks) -> int:
    """Return in how many windows the detector fires."""
    if not len(others.costs):
        return 0
    return int(np.sum(scores(detector, others) > detector.fires_at))


def _padded(take: Sound) -> Sound:
    return np.concatenate((_AROUND, take, _AROUND))


def _power_db(sound: Sound) -> float:
    return float(10 * np.log10(np.mean(sound.astype(np.float64) ** 2) + 1e-9))


def _one_in(part: float) -> str:
    """Return a share as people say it: `1 in 8`."""
    return _("1 in {number}", number=round(1 / part)) if part > 0 else _("none")


def _length(hours: float) -> str:
    if hours >= 1:
        return _("{hours} hours", hours=decimal(hours, 1))
    return many("{count} minute", "{count} minutes", round(hours * 60) or 1)
