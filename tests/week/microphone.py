"""The microphone of the week: its sound comes from the rig, a block at a time, on the week's own clock."""

import queue
from collections.abc import Callable

from companion.listening.microphone.capture import Block
from companion.listening.microphone.trouble import Trouble
from companion.listening.sound import Sound

WAITING_BLOCKS = 150


class WeekMicrophone:
    """What the ear takes for a microphone; only the device and its own thread are left out."""

    def __init__(self, _: str | None, on_trouble: Callable[[Trouble | None, float], None]) -> None:
        self.blocks: queue.Queue[Block] = queue.Queue(WAITING_BLOCKS)
        self.trouble: Trouble | None = None
        self.level_dbfs = -50.0
        self.closed = False
        self._on_trouble = on_trouble

    def hear(self, sound: Sound, began_s: float, *, after_gap: bool = False) -> None:
        """Take sound, unless it is closed or in trouble."""
        if not self.closed and self.trouble is None:
            self.blocks.put(Block(sound, began_s, after_gap))

    def have(self, trouble: Trouble | None, since_s: float) -> None:
        """Be in trouble, or well again."""
        self.trouble = trouble
        self._on_trouble(trouble, since_s)

    def close(self) -> None:
        """Hear nothing more."""
        self.closed = True
