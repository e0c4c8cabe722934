"""The rehearsal as a conversation: what to say next, given what was heard. Pure; no sound is looked at.

A step asks for takes of one phrase, for free talk, or for the room alone. Every answer is a new `Guide`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum, auto

from companion.language import _, many
from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.learning import FEWEST_TAKES
from companion.listening.rehearsal.take_check import Fault
from companion.listening.rehearsal.take_cutter import Take
from companion.listening.sound import SAMPLE_RATE, Sound

CUE_TAKES = 8
COMMAND_TAKES = 3
LONE_TAKES = 5
"""Takes of each phrase where there is no cue."""
TALK_S = 60.0
ROOM_S = 30.0
TAKE_S = 2.5
"""What a take takes with the pause after it, to foretell how long the rehearsal is."""


class Part(Enum):
    """What a step asks for."""

    TAKES = auto()
    TALK = auto()
    ROOM = auto()


@dataclass(frozen=True, slots=True)
class RehearsalStep:
    """One thing to do: `takes` times `phrase`, or `seconds` of sound."""

    part: Part
    phrase: str = ""
    takes: int = 0
    seconds: float = 0.0
    fewest: int = 0
    """Takes without which nothing can be learnt, and the step can't be left."""

    @property
    def about_s(self) -> float:
        """About how long it takes."""
        return self.seconds or self.takes * TAKE_S


def steps_for(vocabulary: Vocabulary, once: Sequence[str] = ()) -> tuple[RehearsalStep, ...]:
    """Return the steps of a rehearsal; phrases in `once` are asked for a single time each."""
    each = COMMAND_TAKES if vocabulary.cue else LONE_TAKES
    cue = (
        [RehearsalStep(Part.TAKES, vocabulary.cue, CUE_TAKES, fewest=FEWEST_TAKES)] if vocabulary.cue else []
    )
    fewest = 0 if vocabulary.cue else FEWEST_TAKES
    phrases = [
        RehearsalStep(Part.TAKES, phrase, 1 if vocabulary.cue and phrase in once else each, fewest=fewest)
        for phrase in vocabulary.phrases
    ]
    return (
        *cue,
        *phrases,
        RehearsalStep(Part.TALK, seconds=TALK_S),
        RehearsalStep(Part.ROOM, seconds=ROOM_S),
    )


@dataclass(frozen=True, slots=True)
class Guide:
    """Where the rehearsal stands, and what it has collected."""

    steps: tuple[RehearsalStep, ...]
    at: int = 0
    takes: tuple[tuple[str, Sound], ...] = ()
    """Good takes, each with its phrase, in the order in which they were said."""
    talk: tuple[Sound, ...] = ()
    room: tuple[Sound, ...] = ()
    remark: str = ""
    """What to say about the last thing heard; empty where there is nothing to say."""
    back_to: int | None = None
    """The step to go on with, once a take of an earlier one was said again."""

    @property
    def step(self) -> RehearsalStep | None:
        """The step that is going on; None at the end."""
        return self.steps[self.at] if self.at < len(self.steps) else None

    @property
    def prompt(self) -> str:
        """What the teacher is asked to do now."""
        step = self.step
        if step is None:
            return _("That is all. Thank you.")
        place = {"place": self.at + 1, "steps": len(self.steps)}
        match step.part:
            case Part.TALK:
                return _(
                    "{place} of {steps} · Talk about anything for a minute, as you do in class: explain a "
                    "recipe, give directions. Don't say the phrases. Enter ends it early.",
                    **place,
                )
            case Part.ROOM:
                return _(
                    "{place} of {steps} · Now say nothing for half a minute: this is the room. Enter ends "
                    "it early.",
                    **place,
                )
        return many(
            "{place} of {steps} · Say “{phrase}” once. Enter skips it; r and Enter takes the last one back.",
            "{place} of {steps} · Say “{phrase}” {count} times, with a pause after each. Enter skips it; r "
            "and Enter takes the last one back.",
            step.takes,
            phrase=step.phrase,
            **place,
        )

    @property
    def done(self) -> int:
        """How many takes the step has, or how many seconds of sound."""
        match self.step:
            case None:
                return 0
            case RehearsalStep(part=Part.TAKES, phrase=phrase):
                return self._count(phrase)
            case RehearsalStep(part=Part.TALK):
                return sum(map(len, self.talk)) // SAMPLE_RATE
        return sum(map(len, self.room)) // SAMPLE_RATE

    @property
    def takes_of(self) -> Mapping[str, list[Sound]]:
        """The takes by phrase; phrases without any are left out."""
        found: dict[str, list[Sound]] = {}
        for phrase, sound in self.takes:
            found.setdefault(phrase, []).append(sound)
        return found

    def hear_take(self, take: Take) -> "Guide":
        """Answer to a stretch of speech in a step that asks for takes."""
        step = self.step
        if step is None or step.part is not Part.TAKES:
            return self
        if take.fault:
            return replace(self, remark=_not_taken(take.fault))
        kept = replace(self, takes=(*self.takes, (step.phrase, take.sound)))
        count = kept.done
        said = replace(kept, remark=_("{done} of {takes}: good.", done=count, takes=step.takes))
        return said.forward() if count >= step.takes else said

    def hear_sound(self, sound: Sound) -> "Guide":
        """Answer to sound in a step that asks for talk or for the room."""
        step = self.step
        if step is None or step.part is Part.TAKES:
            return self
        kept = (
            replace(self, talk=(*self.talk, sound), remark="")
            if step.part is Part.TALK
            else replace(self, room=(*self.room, sound), remark="")
        )
        return replace(kept, remark=_("Good.")).forward() if kept.done >= step.seconds else kept

    def hear_nothing(self, *, clipped: bool = False) -> "Guide":
        """Answer to a long time without speech where something was to be said.

        clipped: whether there was sound, too loud for the microphone.
        """
        if self.step is None or self.step.part is Part.ROOM:
            return self
        if clipped:
            return replace(self, remark=_not_taken(Fault.CLIPPED))
        return replace(self, remark=_("Nothing was heard. Speak up, or look whether the microphone is on."))

    def forward(self) -> "Guide":
        """Return what it is at the next step, or at the one that was left for another."""
        return replace(self, at=self.at + 1 if self.back_to is None else self.back_to, back_to=None)

    def skip(self) -> "Guide":
        """Go on to the next step with what there is, if it is enough."""
        if self.step is None:
            return self
        if self.done < self.step.fewest:
            needed = _(
                "“{phrase}” is needed {fewest} times at least, or nothing can be learnt. Please say it "
                "again.",
                phrase=self.step.phrase,
                fewest=self.step.fewest,
            )
            return replace(self, remark=needed)
        return replace(self, remark=_("Skipped.") if not self.done else _("Good, going on.")).forward()

    def again(self) -> "Guide":
        """Take the last take back, wherever it was said; begin talk or room anew."""
        match self.step:
            case RehearsalStep(part=Part.TALK) if self.talk:
                return replace(self, talk=(), remark=_("From the beginning."))
            case RehearsalStep(part=Part.ROOM) if self.room:
                return replace(self, room=(), remark=_("From the beginning."))
        if not self.takes:
            return replace(self, remark=_("There is nothing to take back."))
        phrase = self.takes[-1][0]
        at = next(number for number, step in enumerate(self.steps) if step.phrase == phrase)
        return replace(
            self, takes=self.takes[:-1], at=at, remark=_("The last “{phrase}” is taken back.", phrase=phrase)
        )

    def take_back(self, number: int) -> "Guide":
        """Take the good take with that number back, ask for it again, and go on then where it was."""
        if not 0 <= number < len(self.takes):
            return self
        phrase = self.takes[number][0]
        at = next(place for place, step in enumerate(self.steps) if step.phrase == phrase)
        rest = (*self.takes[:number], *self.takes[number + 1 :])
        back_to = self.back_to if self.back_to is not None else self.at
        return replace(
            self,
            takes=rest,
            at=at,
            back_to=back_to if back_to != at else None,
            remark=_("Say “{phrase}” once more.", phrase=phrase),
        )

    def _count(self, phrase: str) -> int:
        return sum(said == phrase for said, _ in self.takes)


def _not_taken(fault: Fault) -> str:
    return _("Not taken: {fault}. Please say it again.", fault=_(fault))
