"""Picks the command that follows a cue, out of a closed set, or finds that none of them does."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from companion.listening.acoustics import FRAME_SAMPLES, NATS, bare_decoder, forms
from companion.listening.phonemes.distance import PHONEMES
from companion.listening.sound import Sound

_PHONEME_CHANCE = 0.02
"""Chance of each phoneme of the free chain after the command: small, or it would eat the command's end."""


@dataclass(frozen=True, slots=True)
class Choice:
    """The command that fits best."""

    command: str
    end: int
    """Samples from the sound's begin to where the command ends."""
    score: float
    """Log likelihood of the whole sound, nats."""


@dataclass(frozen=True, slots=True)
class Weight:
    """What a choice is worth: how much better it fits, in nats over the whole sound."""

    than_next: float
    """than the next best command."""
    than_free: float
    """than a free chain of phonemes after the cue; well below 0 means that no command fits."""


class CommandChoice:
    """Lays cue and command, with anything after them, over a piece of sound.

    A pause may lie between any two words.
    """

    def __init__(self, cue: str, commands: Sequence[str]) -> None:
        self._decoder = bare_decoder(wip=1.0, compallsen=True, bestpath=False)
        for phoneme in PHONEMES:
            self._decoder.add_word(_free(phoneme), phoneme, phoneme == PHONEMES[-1])
        self._cue = forms(self._decoder, cue)
        self._commands = {command: forms(self._decoder, command) for command in commands}

    def choose(self, sound: Sound) -> Choice | None:
        """Return the best command in sound that begins with the cue, or None when nothing fits."""
        return self._lay(sound, list(self._commands))

    def weigh(self, choice: Choice, sound: Sound) -> Weight:
        """Return how clearly the choice wins in the sound it was made on."""
        rest = self._lay(sound, [other for other in self._commands if other != choice.command])
        free = self._lay(sound, [])
        return Weight(
            than_next=choice.score - rest.score if rest else math.inf,
            than_free=choice.score - free.score if free else math.inf,
        )

    def _lay(self, sound: Sound, commands: list[str]) -> Choice | None:
        """Return the best of `commands`; with none of them, a free chain of phonemes."""
        self._decoder.add_fsg("commands", self._grammar(commands))
        self._decoder.activate_search("commands")
        self._decoder.start_utt()
        self._decoder.process_raw(sound.tobytes(), full_utt=True)
        self._decoder.end_utt()
        if self._decoder.hyp() is None:
            return None
        found = [part for part in self._decoder.seg() or () if not part.word.startswith(("<", "[", "+"))]
        score = sum(
            math.log(part.ascore) / math.log(1.0001) * NATS for part in self._decoder.seg() if part.ascore
        )
        said = [part for part in found if not part.word.startswith("free-")]
        text = " ".join(part.word for part in said)
        command = next(
            (
                name
                for name in commands
                if any(f"{cue} {form}" == text for cue in self._cue for form in self._commands[name])
            ),
            "",
        )
        end = (said[-1].end_frame + 1) * FRAME_SAMPLES if said else 0
        return Choice(command, end, score)

    def _grammar(self, commands: list[str]) -> object:
        after_cue, end = 1, 2
        arcs: list[tuple[int, int, float, str]] = []
        states = 3

        def chain(start: int, stop: int, form: str, chance: float) -> None:
            nonlocal states
            said = form.split()
            for place, word in enumerate(said):
                to = stop if place == len(said) - 1 else states
                states += to == states
                arcs.append((start, to, chance if place == 0 else 1.0, word))
                start = to

        for form in self._cue:
            chain(0, after_cue, form, 1.0)
        for command in commands:
            for form in self._commands[command]:
                chain(after_cue, end, form, 1.0)
        for phoneme in PHONEMES:
            if not commands:
                arcs.append((after_cue, end, _PHONEME_CHANCE, _free(phoneme)))
            arcs.append((end, end, _PHONEME_CHANCE, _free(phoneme)))
        return self._decoder.create_fsg("commands", 0, end, arcs)


def _free(phoneme: str) -> str:
    return f"free-{phoneme.lower()}"
