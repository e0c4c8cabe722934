"""The rehearsal on a page: what to say, each take with its shape, and what to expect at the end."""

import threading
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from companion.language import _
from companion.lesson.vocabulary import Vocabulary
from companion.listening.microphone.capture import Block
from companion.listening.rehearsal.guide import Guide, Part, RehearsalStep, steps_for
from companion.listening.rehearsal.progress import RehearsalProgress
from companion.listening.rehearsal.take_cutter import Take
from companion.listening.rehearsal.taught import NO_SOUND, teach_voice
from companion.listening.sound import Sound
from companion.pages.exercises.learning_apart import LearningApart
from companion.pages.exercises.listening_line import ListeningLine

BARS = 40
"""Of which a take's shape is made."""
FEWEST_CUES = 5
"""Takes of the cue before it can be learnt from (a recommendation: `learning` refuses below three)."""


@dataclass(frozen=True, slots=True)
class TakeShown:
    """A take as the page shows it."""

    number: int
    """Its place among the good takes; -1 for one that was not taken."""
    shape: tuple[int, ...]
    """Height of each bar, 0 to 100 of the loudest."""
    fault: str = ""
    """Why it was not taken."""


class RehearsedVoice:
    """Leads through a rehearsal at a microphone. Nothing of the sound outlives it."""

    step = "rehearsal"
    of_reviews = False
    """Whether it learns from what reviews kept, and not from what is said now."""

    def __init__(self, name: str, vocabulary: Vocabulary, once: Sequence[str], folder: Path) -> None:
        """name: of the microphone, empty for the system's own choice. once: phrases said a single time."""
        self._name, self._vocabulary, self._folder = name, vocabulary, folder
        self._lock = threading.RLock()
        self._rehearsing = RehearsalProgress(Guide(steps_for(vocabulary, once)), self._on_take)
        self._refused: Take | None = None
        self._learning: LearningApart | None = None
        self._line: ListeningLine | None = None
        self.go_on()

    @property
    def guide(self) -> Guide:
        """Where it stands."""
        return self._rehearsing.guide

    @property
    def now(self) -> RehearsalStep | None:
        """What is asked for; None once everything was."""
        return self.guide.step

    @property
    def kind(self) -> str:
        """`takes`, `talk`, `room` or `end`."""
        return {None: "end", Part.TAKES: "takes", Part.TALK: "talk", Part.ROOM: "room"}[
            self.now.part if self.now else None
        ]

    @property
    def left_minutes(self) -> int:
        """About how long the rest takes."""
        rest = self.guide.steps[self.guide.at :]
        return round(sum(step.about_s for step in rest) / 60)

    @property
    def can_learn(self) -> bool:
        """Whether there are takes enough to learn from."""
        takes = self.guide.takes_of
        return all(len(takes.get(opener, ())) >= FEWEST_CUES for opener in self._vocabulary.openers)

    @property
    def takes(self) -> list[TakeShown]:
        """The takes of what is asked for now, with the last one that was not taken."""
        phrase = self.now.phrase if self.now else ""
        shown = [
            TakeShown(number, shape_of(sound))
            for number, (said, sound) in enumerate(self.guide.takes)
            if said == phrase and phrase
        ]
        refused = self._refused
        if refused is not None and refused.fault is not None:
            shown.append(TakeShown(-1, shape_of(refused.sound), _(str(refused.fault))))
        return shown

    @property
    def earlier(self) -> list[tuple[str, int]]:
        """What was said before, each phrase with the number of its takes."""
        phrase = self.now.phrase if self.now else ""
        return [(said, len(takes)) for said, takes in self.guide.takes_of.items() if said != phrase]

    @property
    def learning(self) -> LearningApart | None:
        """How far learning has come; None before it begins."""
        return self._learning

    @property
    def resting(self) -> bool:
        """Whether the microphone is closed."""
        return self._line is None

    @property
    def trouble(self) -> str:
        """What is wrong with the microphone, with the remedy."""
        found = self._line.trouble if self._line else None
        return f"{found.words[0].upper()}{found.words[1:]}. {found.remedy}" if found else ""

    @property
    def opening(self) -> bool:
        """Whether the microphone has not been heard yet: what is said now would be lost."""
        return self._line is not None and not self._line.heard

    @property
    def stamp(self) -> str:
        """What changes with everything that the page shows."""
        learning = self._learning
        far = (round(learning.done, 2), learning.is_over) if learning else None
        guide = self.guide
        heard = (guide.at, len(guide.takes), guide.done, guide.remark, id(self._refused))
        return f"{heard}-{far}-{self.resting}-{self.trouble}-{self.opening}"

    @property
    def level_dbfs(self) -> float | None:
        """Loudness of the newest sound."""
        line = self._line
        return line.level_dbfs if line else None

    def go_on(self) -> None:
        """Open the microphone."""
        with self._lock:
            if self._line is None and self.now is not None:
                self._line = ListeningLine(self._name or None, self._hear)

    def rest(self) -> None:
        """Close the microphone; what was said so far stays."""
        with self._lock:
            line, self._line = self._line, None
        if line is not None:
            line.close()

    def skip(self) -> None:
        """Go on to the next thing with what there is."""
        with self._lock:
            self._refused = None
            self._rehearsing.type("")
        self._close_at_the_end()

    def again(self, number: int) -> None:
        """Take back the good take with that number, and ask for it once more."""
        with self._lock:
            self._refused = None
            self._rehearsing.take_back(number)
        self.go_on()

    def learn(self) -> None:
        """Learn from what was said, and keep it."""
        self.rest()
        guide = self.guide
        talk = [np.concatenate(guide.talk)] if guide.talk else []
        room: Sound = np.concatenate((NO_SOUND, *guide.room))
        takes = dict(guide.takes_of)
        teach = partial(teach_voice, self._vocabulary, takes, talk=talk, room=room, folder=self._folder)
        self._learning = LearningApart(teach)

    def _on_take(self, take: Take) -> None:
        self._refused = take if take.fault else None

    def _hear(self, block: Block) -> None:
        with self._lock:
            self._rehearsing.hear(block)
        self._close_at_the_end()

    def _close_at_the_end(self) -> None:
        if self.now is None:
            threading.Thread(target=self.rest, name="rehearsal, closing", daemon=True).start()


def shape_of(take: Sound) -> tuple[int, ...]:
    """Return how loud a take is from its beginning to its end, as bars from 0 to 100."""
    peaks = [int(np.abs(part.astype(np.int32)).max(initial=0)) for part in np.array_split(take, BARS)]
    loudest = max(*peaks, 1)
    return tuple(round(100 * peak / loudest) for peak in peaks)
