"""A rehearsal that is going on: blocks from the microphone and typed lines in, the guide's answers out."""

from collections.abc import Callable

from companion.language import _
from companion.listening.microphone.capture import Block
from companion.listening.microphone.gate import SpeechGate
from companion.listening.rehearsal.guide import Guide, Part
from companion.listening.rehearsal.take_check import is_clipped
from companion.listening.rehearsal.take_cutter import Take, TakeCutter
from companion.listening.sound import SAMPLE_RATE

SILENT_S = 10.0
"""When nothing was said for so long, something is wrong."""


class RehearsalProgress:
    """Leads a `Guide` by what is heard."""

    def __init__(self, guide: Guide, on_take: Callable[[Take], None] = lambda _take: None) -> None:
        """on_take: called with every stretch of speech where a phrase was asked for, good or not."""
        self.guide = guide
        self._on_take = on_take
        self._cutter = TakeCutter()
        self._gate = SpeechGate()
        self._silent_s = 0.0
        self._clipped = False

    def hear(self, block: Block) -> str:
        """Take the next block of sound; return what to say about it, mostly nothing."""
        before, step = self.guide, self.guide.step
        if step is None:
            return ""
        match step.part:
            case Part.TAKES:
                for take in self._cutter.hear(block):
                    self._on_take(take)
                    self._follow(self.guide.hear_take(take))
            case Part.TALK:
                for speech in self._gate.hear(block.sound):
                    self._follow(self.guide.hear_sound(speech.sound))
            case Part.ROOM:
                self._follow(self.guide.hear_sound(block.sound))
        if self.guide is before:
            self._silent_s += len(block.sound) / SAMPLE_RATE
            # A voice that is cut off at full scale may not sound like speech any more.
            self._clipped = self._clipped or is_clipped(block.sound)
            if self._silent_s > SILENT_S:
                self._follow(self.guide.hear_nothing(clipped=self._clipped))
        return "" if self.guide is before else self.guide.remark

    def type(self, line: str) -> str:
        """Take a typed line, empty or `r`; return what to say about it."""
        match line.strip().lower():
            case "":
                self._follow(self.guide.skip())
            case "r":
                self._follow(self.guide.again())
            case _other:
                return _("Enter skips; r and Enter takes the last one back; Ctrl+C stops.")
        self._begin_step()
        return self.guide.remark

    def take_back(self, number: int) -> None:
        """Ask once more for the good take with that number."""
        self._follow(self.guide.take_back(number))
        self._begin_step()

    def _follow(self, guide: Guide) -> None:
        before, self.guide = self.guide, guide
        self._silent_s, self._clipped = 0.0, False
        if guide.at != before.at:
            self._begin_step()

    def _begin_step(self) -> None:
        """Forget the stretch of speech that is open: it was for the step before."""
        self._cutter = TakeCutter()
        self._gate = SpeechGate()
