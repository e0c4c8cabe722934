"""Finds out which gesture someone makes on a button that nobody named before. Pure, like the gestures."""

from dataclasses import dataclass, field

from companion.pressing.gesture import MODIFIERS, Button, Gesture, GestureReader, KeyEvent, Timings, Touch

ALTERNATING = frozenset({"f5", "esc"})
"""Keys that one button of many clickers sends in turn, to start and end the show."""


@dataclass(slots=True)
class Learner:
    """Takes key events until the first gesture is made, on whichever button."""

    timings: Timings = field(default_factory=Timings)
    _held: set[str] = field(default_factory=set, init=False)
    _reader: GestureReader | None = field(default=None, init=False)
    _sent: set[str] = field(default_factory=set, init=False)

    def take(self, event: KeyEvent) -> Gesture | None:
        """Take the next event and return the gesture that it decides, if any."""
        if event.key in MODIFIERS:
            (self._held.add if event.pressed else self._held.discard)(event.key)
            return None
        if self._reader is None:
            if not event.pressed:
                return None
            self._reader = self._reader_for(event)
        if event.pressed:
            self._sent.add(event.key)
        return self._first(self._reader.take(event))

    def settle(self, now_ms: int) -> Gesture | None:
        """Return the gesture that is decided by the passing of time, if any."""
        return None if self._reader is None else self._first(self._reader.settle(now_ms))

    def _reader_for(self, event: KeyEvent) -> GestureReader:
        keys = ALTERNATING if event.key in ALTERNATING and not self._held else frozenset({event.key})
        button = Button(keys, frozenset(self._held))
        reader = GestureReader({button: frozenset(Touch)}, self.timings)
        for modifier in self._held:
            reader.take(KeyEvent(modifier, True, event.at_ms))
        return reader

    def _first(self, gestures: list[Gesture]) -> Gesture | None:
        if not gestures:
            return None
        made = gestures[0]
        self._reader = None
        sent = frozenset(self._sent) & made.button.keys
        self._sent.clear()
        return Gesture(Button(sent, made.button.modifiers), made.touch, made.at_ms, made.decided_ms)
