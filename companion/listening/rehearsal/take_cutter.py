"""Cuts what the microphone hears into takes, where somebody begins and ends to speak."""

from dataclasses import dataclass

import numpy as np

from companion.listening.microphone.capture import Block
from companion.listening.microphone.gate import Speech, SpeechGate
from companion.listening.rehearsal.take_check import Fault, fault_of
from companion.listening.sound import Sound


@dataclass(frozen=True, slots=True)
class Take:
    """One stretch of speech with a little sound around it, and what is wrong with it, if anything."""

    sound: Sound
    fault: Fault | None = None


class TakeCutter:
    """Gives a take for each stretch of speech, as soon as it is over."""

    def __init__(self) -> None:
        self._gate = SpeechGate()
        self._pieces: list[Sound] = []
        self._gap = False

    def hear(self, block: Block) -> list[Take]:
        """Take the next block and return the takes that ended in it."""
        self._gap = self._gap or (block.after_gap and bool(self._pieces))
        return [take for speech in self._gate.hear(block.sound) if (take := self._add(speech))]

    def _add(self, speech: Speech) -> Take | None:
        self._pieces.append(speech.sound)
        if not speech.last:
            return None
        sound = np.concatenate(self._pieces)
        take = Take(sound, fault_of(sound, gap=self._gap))
        self._pieces, self._gap = [], False
        return take
