"""What to expect after a rehearsal, found by leaving out: what is listened to was never learnt from.

Takes and talk are cut into the same few parts; a detector learns from all parts but one and hears that one.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from companion.lesson.counting import how_many
from companion.lesson.trends import share
from companion.listening.bench.measure import rate_interval
from companion.listening.candidate import SAMPLE_RATE, Candidate, Sound, Spotter, Vocabulary
from companion.listening.detector import Detector
from companion.listening.enrolled import Learnt, opener
from companion.listening.enrolment import Takes, speech_in
from companion.listening.learning import FEWEST_TAKES, learn

PARTS = 4
LESSON_HOURS = 20
"""Hours of lessons in a week, to say false marks a week."""
MANY = 100
"""So many possible false marks a week are no promise at all."""

_AROUND: Sound = np.zeros(SAMPLE_RATE, np.int16)
_BEFORE_COMMAND: Sound = np.zeros(SAMPLE_RATE // 8, np.int16)
_BLOCK = SAMPLE_RATE // 10


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
            expected = f"probably fewer than {_one_in(part.high)} missed"
        else:
            expected = (
                f"about {_one_in(part.value)} missed, likely between {_one_in(part.low)} and"
                f" {_one_in(part.high)}"
            )
        return (
            f"“{self.phrase}”: {expected} in a quiet room, more in a noisy one"
            f" ({self.missed} of {self.takes} takes, each left out once)."
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
        times = f"{self.times} of {self.takes} times"
        if self.taken_for:
            often = "often" if 2 * self.times >= self.takes else "sometimes"
            return (
                f"“{self.phrase}” is {often} taken for “{self.taken_for}” ({times}): choose another word"
                " for one of them."
            )
        return f"“{self.phrase}” is not always clear ({times}): say it more slowly, or choose another word."


@dataclass(frozen=True, slots=True)
class FalseMarks:
    """How many marks nobody spoke, in talk that was not learnt from."""

    count: int
    hours: float

    @property
    def sentence(self) -> str:
        """Return the honest upper limit (exact Poisson, 95 %)."""
        found = f"{self.count or 'No'} false mark{'' if self.count == 1 else 's'}"
        heard = f"{found} in {_length(self.hours)} of talk that was not learnt from"
        high = rate_interval(self.count, self.hours)[1]
        week = high * LESSON_HOURS
        if week < MANY:
            return f"{heard}: no more than about {round(week) or 1} in a week of {LESSON_HOURS} lesson hours."
        return (
            f"{heard}: no more than about {high:.0f} an hour. That is too little talk to say more;"
            " an hour of it, given with --talk, says more."
        )


@dataclass(frozen=True, slots=True)
class Forecast:
    """What to expect in the lessons to come."""

    missed: tuple[Missed, ...]
    mixups: tuple[Mixup, ...]
    false_marks: FalseMarks | None

    @property
    def sentences(self) -> tuple[str, ...]:
        """Return it in plain words."""
        known = (*self.missed, *self.mixups, *((self.false_marks,) if self.false_marks else ()))
        return tuple(one.sentence for one in known)


def foretell(
    vocabulary: Vocabulary,
    learnt: Learnt,
    takes: Takes,
    talk: Sequence[Sound] = (),
    on_part: Callable[[float], None] = lambda _: None,
) -> Forecast:
    """Return what to expect of `learnt`, which was learnt from `takes` and `talk`.

    on_part: called with the share (0 to 1) that is done. Phrases with too few takes are left out.
    """
    phrases = [d.phrase for d in learnt.detectors if len(takes.get(d.phrase, ())) > FEWEST_TAKES]
    missed: dict[str, int] = dict.fromkeys(phrases, 0)
    false = 0
    whole = np.concatenate((np.zeros(0, np.int16), *talk))
    for at, phrase in enumerate(phrases):
        parts = min(PARTS, len(takes[phrase]))
        for part in range(parts):
            others = [take for number, take in enumerate(takes[phrase]) if number % parts != part]
            begin, end = len(whole) * part // parts, len(whole) * (part + 1) // parts
            detector = learn(phrase, others, [piece for piece in (whole[:begin], whole[end:]) if len(piece)])
            missed[phrase] += sum(
                not any(found.fired for found in _hear(_alone(detector), _padded(take)))
                for take in takes[phrase][part::parts]
            )
            if end > begin:
                spotter = _with_commands(vocabulary, detector, learnt)
                false += sum(found.fired for found in _hear(spotter, whole[begin:end]))
            on_part((at + (part + 1) / parts) / len(phrases))
    return Forecast(
        tuple(Missed(phrase, count, len(takes[phrase])) for phrase, count in missed.items()),
        mixups(vocabulary, learnt, takes),
        FalseMarks(false, len(whole) / SAMPLE_RATE / 3600) if len(whole) and phrases else None,
    )


def mixups(vocabulary: Vocabulary, learnt: Learnt, takes: Takes) -> tuple[Mixup, ...]:
    """Return which commands are taken for which others, the most frequent first; none without a cue.

    A command's takes are said after takes of the cue and go the way that they go in a lesson. Commands are
    known from the dictionary, not from takes, so that each take is left out.
    """
    cue = takes.get(vocabulary.cue or "", ())
    if not cue:
        return ()
    open_spotter = opener(vocabulary, learnt)
    found: list[Mixup] = []
    for phrase in vocabulary.phrases:
        said = takes.get(phrase, ())
        taken = [_taken_for(phrase, open_spotter(), cue[at % len(cue)], take) for at, take in enumerate(said)]
        found += [
            Mixup(phrase, other, taken.count(other), len(said))
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
        return f"Your voice is only {above:.0f} dB above the room: come nearer to the microphone."
    return f"Your voice is {above:.0f} dB above the room{': that is plenty' if above > 20 else ''}."


def _taken_for(phrase: str, spotter: Spotter, cue: Sound, command: Sound) -> str | None:
    """Return the command that was heard, empty where it was not clear, None where the cue was missed."""
    cue_end, command_begin = speech_in(cue)[1], speech_in(command)[0]
    sound = np.concatenate((_AROUND, cue[:cue_end], _BEFORE_COMMAND, command[command_begin:], _AROUND))
    heard = _hear(spotter, sound)
    fired = [found.phrase for found in heard if found.fired]
    if phrase in fired or not heard:
        return phrase if fired else None
    return fired[0] if fired else ""


def _alone(detector: Detector) -> Spotter:
    return opener(Vocabulary((detector.phrase,)), Learnt((detector,), {}))()


def _with_commands(vocabulary: Vocabulary, detector: Detector, learnt: Learnt) -> Spotter:
    """Return a spotter as in a lesson, where a cue alone makes no mark."""
    if not vocabulary.cue:
        return _alone(detector)
    return opener(vocabulary, Learnt((detector,), learnt.commands))()


def _hear(spotter: Spotter, sound: Sound) -> list[Candidate]:
    blocks = [sound[at : at + _BLOCK] for at in range(0, len(sound), _BLOCK)]
    return [found for block in blocks for found in spotter.hear(block)] + spotter.finish()


def _padded(take: Sound) -> Sound:
    return np.concatenate((_AROUND, take, _AROUND))


def _power_db(sound: Sound) -> float:
    return float(10 * np.log10(np.mean(sound.astype(np.float64) ** 2) + 1e-9))


def _one_in(part: float) -> str:
    """Return a share as people say it: `1 in 8`."""
    return f"1 in {round(1 / part)}" if part > 0 else "none"


def _length(hours: float) -> str:
    return f"{hours:.1f} hours" if hours >= 1 else how_many(round(hours * 60) or 1, "minute")
