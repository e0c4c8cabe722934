"""The enrolled engine: hears one teacher's phrases, learnt from the teacher's own takes.

Every 480 ms of speech the last 2.56 s are looked at, every 120 ms while anything is a little like a phrase,
and at the moment when something can be decided; `finds` keeps what was found until then. With a cue, the
cue's detector alone says whether anything was said to the companion; the command is then chosen from the
closed set, or refused.
"""

import math
from collections.abc import Generator, Iterator, Sequence

import numpy as np

from companion.lesson.vocabulary import Vocabulary
from companion.listening.candidate import Candidate
from companion.listening.detection.command_fit import CommandChoice, CommandFit, levels
from companion.listening.detection.detector import Detector, detect
from companion.listening.detection.finds import Find, Finds
from companion.listening.microphone.gate import Speech, SpeechGate
from companion.listening.phonemes.acoustic_model import (
    FRAME_SAMPLES,
    WINDOW_SAMPLES,
    Looks,
    hear,
    window_ending,
)
from companion.listening.sound import SAMPLE_RATE, Sound

HOP = 1_920
"""Samples of speech between two looks (120 ms) while something is a little like a phrase."""
RESTING_HOP = 4 * HOP
"""Else there is a look only after so many: looks are what listening costs."""
ATTENTIVE_LOG_ODDS = -8.0
"""What is likelier than this is a little like a phrase. (No phrase of the development words was lost by it
down to 5 dB; from -6 on some were decided later.)"""
COMMAND_ENDS_WITHIN = int(2.6 * SAMPLE_RATE)
"""A command has to end so soon after its cue."""
COMMAND_SETTLED = int(0.24 * SAMPLE_RATE)
"""A command is decided when so much was heard after its end, if that was silence."""
COMMAND_SETTLED_IN_NOISE = int(0.36 * SAMPLE_RATE)
"""Else when so much was heard: a voice may go on, a sentence after a short stop."""
COMMAND_TELLS = 2.0
"""How much a clear command adds to the log odds that its cue was said: less than what was measured, since 1
in 20 sentences of synthetic voices that were no command were taken for one."""

NEAR_MISS_LOG_ODDS = -1.8
"""Beneath this, more near misses would be false than a review should ask about."""


class EnrolledSpotter:
    """A `Spotter` over one detector for the cue, or one for each phrase where there is no cue."""

    name = "enrolled"

    def __init__(
        self,
        vocabulary: Vocabulary,
        detectors: Sequence[Detector],
        commands: CommandFit | None = None,
        *,
        lowest_log_odds: float = NEAR_MISS_LOG_ODDS,
    ) -> None:
        self._vocabulary = vocabulary
        self._detectors = detectors
        self._commands = commands
        self._lowest = lowest_log_odds
        self._gate = SpeechGate()
        self._sound: Sound = np.zeros(0, np.int16)
        self._end = 0
        """Sample number of the end of what was heard."""
        self._looked_at = 0
        """Sample number of the end of the last look."""
        self._due: float = 0
        """Sample number from which on there is another look."""
        self._finds = Finds()
        self._cue: Find | None = None
        # The network is loaded now, and not while the first phrase waits.
        hear(np.zeros((1, WINDOW_SAMPLES), np.int16))

    def hear(self, block: Sound) -> list[Candidate]:
        """Take the next block of sound and return what was decided by its end."""
        return [found for speech in self._gate.hear(block) for found in self._take(speech)]

    def finish(self) -> list[Candidate]:
        """Return what is still undecided at the end of the sound."""
        return [found for speech in self._gate.finish() for found in self._take(speech)]

    def _take(self, speech: Speech) -> Iterator[Candidate]:
        if speech.first:
            self._sound = np.zeros(0, np.int16)
            self._due = speech.begin + len(speech.sound) + RESTING_HOP
        self._sound = np.concatenate((self._sound, speech.sound))[-WINDOW_SAMPLES:]
        self._end = speech.begin + len(speech.sound)
        if speech.last or self._end >= self._due:
            yield from self._look(over=speech.last)

    def _look(self, *, over: bool) -> Iterator[Candidate]:
        self._looked_at = self._end
        window = window_ending(self._sound, len(self._sound))
        heard = hear(window[np.newaxis])
        likeliest = max((self._consider(detector, heard) for detector in self._detectors), default=-math.inf)
        decided = self._finds.decided(self._looked_at, over=over)
        if self._commands is None:
            yield from (self._candidate(find, find.phrase) for find in decided)
            settles = self._finds.settles
        else:
            settles = yield from self._with_command(self._commands, window, heard, decided, last=over)
        attentive = likeliest >= ATTENTIVE_LOG_ODDS or self._cue is not None
        self._due = min(self._looked_at + (HOP if attentive else RESTING_HOP), settles)

    def _consider(self, detector: Detector, heard: Looks) -> float:
        """Keep what is found in a look, and return its log odds."""
        found = detect(detector, heard)
        if found is None:
            return -math.inf
        starts = self._looked_at - WINDOW_SAMPLES
        find = Find(
            detector.phrase,
            starts + int(found.begin_s * SAMPLE_RATE),
            starts + int(found.end_s * SAMPLE_RATE),
            detector.log_odds(found.score),
            found.fit,
            found.likeness,
        )
        if find.log_odds >= self._lowest:
            self._finds.add(find)
        return find.log_odds

    def _with_command(
        self, commands: CommandFit, window: Sound, heard: Looks, decided: Sequence[Find], *, last: bool
    ) -> Generator[Candidate, None, float]:
        """Yield what is decided, and return where the command that was heard can be."""
        for find in decided:
            if self._cue is not None and self._cue.fires and not find.fires:
                continue
            if self._cue is not None:
                yield self._candidate(self._cue, "", refused="no command followed")
            self._cue = find
        cue = self._cue
        if cue is None:
            return math.inf
        starts = self._looked_at - WINDOW_SAMPLES
        first = max(0, -(-(cue.end - starts) // FRAME_SAMPLES))
        late = last or self._looked_at - cue.end > COMMAND_ENDS_WITHIN
        costs = heard.costs[0, first:]
        if len(costs) < 10:
            self._cue = None if late else cue
            return math.inf
        levels_db, room_db = levels(window)
        choice = commands.choose(costs, levels_db[first:], room_db)
        end = cue.end + (choice.end + 1) * FRAME_SAMPLES
        settles = end + COMMAND_SETTLED
        if settles <= self._looked_at and not choice.silent:
            settles = end + COMMAND_SETTLED_IN_NOISE
        if late or (choice.log_odds > 0 and settles <= self._looked_at):
            yield self._commanded(cue, choice, end)
            self._cue = None
        return settles if self._cue and choice.log_odds > 0 else math.inf

    def _commanded(self, cue: Find, choice: CommandChoice, end: int) -> Candidate:
        clear = choice.log_odds
        said = cue.log_odds + COMMAND_TELLS
        both = -math.log(math.exp(-min(30.0, said)) + math.exp(-min(30.0, clear)))
        refused = "" if clear > 0 else "no command was clear after the cue"
        self._finds.close(end)
        return self._candidate(
            Find(cue.phrase, cue.begin, end, both, cue.fit, cue.likeness), choice.command, refused
        )

    def _candidate(self, find: Find, phrase: str, refused: str = "") -> Candidate:
        return Candidate(
            phrase=phrase,
            begin_ms=max(0, find.begin) * 1000 // SAMPLE_RATE,
            end_ms=find.end * 1000 // SAMPLE_RATE,
            decided_ms=self._looked_at * 1000 // SAMPLE_RATE,
            confidence=1 / (1 + math.exp(-max(-30.0, min(30.0, find.log_odds)))),
            fired=find.fires and not refused,
            engine=self.name,
            reasons=(refused,) if refused else reasons(find),
        )


def reasons(find: Find) -> tuple[str, ...]:
    """Say in plain words what spoke for the phrase and what against it."""
    sounds = "the sounds fit well" if find.fit > -6 else "the sounds fit poorly" if find.fit < -14 else ""
    alike = "like your takes" if find.likeness > 2 else "unlike your takes" if find.likeness < -2 else ""
    return tuple(reason for reason in (sounds, alike) if reason)
