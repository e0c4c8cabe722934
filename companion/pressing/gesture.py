"""From key events to gestures: tap, double and hold on a button, with or without modifiers.

Pure: time comes in with the events. Held keys repeat on every desktop and releases can get lost, so a
press without a release before it is a repeat, and a key that nobody has heard of for long is not held.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

MODIFIERS = ("ctrl", "alt", "alt_gr", "shift", "cmd")
"""Names of the modifier keys, left and right being one, in the order in which a chord is written."""


SPELLED_OUT = {"+": "plus", " ": "space", "/": "slash"}
"""Characters whose key goes by a word, because the character itself means something in a binding."""


def types(key: str) -> bool:
    """Return whether the key called `key` puts a character into a text."""
    return len(key) == 1 or key in SPELLED_OUT.values()


class Touch(StrEnum):
    """What a finger does with a button."""

    TAP = "tap"
    DOUBLE = "double"
    HOLD = "hold"


@dataclass(frozen=True, slots=True)
class Button:
    """One thing to press.

    keys: names of the keys that it sends; more than one for a clicker's button that sends them in turn.
    modifiers: exactly these, no more and no fewer, must be held when the key goes down.
    """

    keys: frozenset[str]
    modifiers: frozenset[str] = frozenset()

    @property
    def typed(self) -> bool:
        """Whether ordinary typing presses it: a character with no modifier."""
        return not self.modifiers and any(types(key) for key in self.keys)

    def __str__(self) -> str:
        held = [name for name in MODIFIERS if name in self.modifiers]
        return "+".join([*held, "/".join(sorted(self.keys))])


@dataclass(frozen=True, slots=True)
class KeyEvent:
    """A key went down or up at `at_ms` on any clock that does not jump."""

    key: str
    pressed: bool
    at_ms: int


@dataclass(frozen=True, slots=True)
class Gesture:
    """What was done: `at_ms` is when the key first went down, `decided_ms` when it was sure."""

    button: Button
    touch: Touch
    at_ms: int
    decided_ms: int


@dataclass(frozen=True, slots=True)
class Timings:
    """How long a finger takes, in milliseconds."""

    double_ms: int = 400
    """From the first press to the second of a double, at most; also the quiet that a typed key needs."""
    hold_ms: int = 700
    """From the press until it counts as held."""
    bounce_ms: int = 5
    """A release and press closer together than this are one press: a bouncing contact, or a desktop that
    reports a repeat as a pair."""
    forgotten_ms: int = 30_000
    """A key without an event for so long is taken as released; its release was lost to a locked screen."""
    modifier_ms: int = 5_000
    """The same for a modifier, which doesn't repeat and would spoil every other key: from its press, or from
    the latest press of a chord with it."""

    def window_ms(self, wanted: frozenset[Touch]) -> int:
        """Return the longest time from a first press to the choice between the `wanted` touches."""
        return max(
            self.double_ms if Touch.DOUBLE in wanted else 0, self.hold_ms if Touch.HOLD in wanted else 0
        )


@dataclass(slots=True)
class _Press:
    """What is known of one button since it went down."""

    began_ms: int
    second_ms: int | None = None
    """When it went down again in time for a double."""
    released_ms: int | None = None
    decided: bool = False
    """Nothing more comes of it; it is kept, so that repeats and bounces are not taken as new."""


@dataclass(slots=True)
class GestureReader:
    """Turns key events into the gestures that were asked for.

    A button's gesture is decided as early as the other gestures asked of that button allow: a tap alone at
    its press, and none later than `Timings.window_ms`.
    """

    wanted: Mapping[Button, frozenset[Touch]]
    timings: Timings = field(default_factory=Timings)
    _down: dict[str, int] = field(default_factory=dict, init=False)
    """Keys that are held, with the time of their latest event."""
    _open: dict[Button, _Press] = field(default_factory=dict, init=False)
    _latest: tuple[str, int] | None = field(default=None, init=False)
    """The key that was last pressed anew, and when."""

    @property
    def due_ms(self) -> int | None:
        """When `settle` has something to decide next, if no other event comes before."""
        return min((due for button in self._open if (due := self._due_ms(button)) is not None), default=None)

    def take(self, event: KeyEvent) -> list[Gesture]:
        """Take the next event and return the gestures decided by its time, in the order of their decision."""
        gestures = self.settle(event.at_ms)
        if not event.pressed:
            self._release(event)
            return gestures
        repeat = self._is_down(event)
        self._down[event.key] = event.at_ms
        if not repeat:
            self._disturb(event)
            self._press(event)
            self._latest = (event.key, event.at_ms)
        return gestures + self.settle(event.at_ms)

    def settle(self, now_ms: int) -> list[Gesture]:
        """Return the gestures that are decided by the passing of time alone."""
        gestures: list[Gesture] = []
        while (due := self.due_ms) is not None and due <= now_ms:
            button = next(button for button in self._open if self._due_ms(button) == due)
            gestures += self._decide(button, due)
        return gestures

    def _is_down(self, event: KeyEvent) -> bool:
        heard_ms = self._down.get(event.key)
        return heard_ms is not None and event.at_ms - heard_ms < self.timings.forgotten_ms

    def _press(self, event: KeyEvent) -> None:
        button = self._button(event)
        if button is None:
            return
        press = self._open.get(button)
        if press is not None and press.released_ms is not None:
            bounced = event.at_ms - press.released_ms < self.timings.bounce_ms
            if bounced or not press.decided:
                press.released_ms = None
                press.second_ms = press.second_ms if bounced else event.at_ms
                return
        self._open[button] = _Press(event.at_ms, decided=button.typed and self._crowded(button, event.at_ms))

    def _button(self, event: KeyEvent) -> Button | None:
        """Return the wanted button that `event` presses with the modifiers that are held."""
        held = frozenset(
            key
            for key, heard_ms in self._down.items()
            if key in MODIFIERS and event.at_ms - heard_ms < self.timings.modifier_ms
        )
        button = next((b for b in self.wanted if event.key in b.keys and b.modifiers == held), None)
        if button is not None:
            self._down.update(dict.fromkeys(held, event.at_ms))
        return button

    def _release(self, event: KeyEvent) -> None:
        if self._down.pop(event.key, None) is None:
            # A key that went down under another name, as some do with Shift: it may have been a modifier.
            for modifier in MODIFIERS:
                self._down.pop(modifier, None)
        for button, press in self._open.items():
            if event.key in button.keys and press.released_ms is None:
                press.released_ms = event.at_ms

    def _crowded(self, button: Button, at_ms: int) -> bool:
        """Whether another key went down shortly before: someone is typing."""
        if self._latest is None:
            return False
        key, pressed_ms = self._latest
        return key not in button.keys and at_ms - pressed_ms < self.timings.double_ms

    def _disturb(self, event: KeyEvent) -> None:
        """Give up the open gestures of typed buttons when another key joins in: someone is typing."""
        for button, press in self._open.items():
            if button.typed and event.key not in button.keys:
                press.decided = True

    def _due_ms(self, button: Button) -> int | None:
        """Return when the open press of `button` is decided, if it is not yet."""
        press, wanted, timings = self._open[button], self.wanted[button], self.timings
        if press.decided:
            return None
        window_ms = timings.window_ms(wanted)
        if press.second_ms is not None:
            # A letter twice is also what "rabbit" sends: wait whether typing goes on.
            return press.began_ms + timings.double_ms if button.typed else press.second_ms
        if press.released_ms is None:
            return press.began_ms + window_ms
        earliest_ms = press.released_ms + timings.bounce_ms
        if Touch.DOUBLE in wanted:
            earliest_ms = max(earliest_ms, press.began_ms + timings.double_ms)
        return min(earliest_ms, press.began_ms + window_ms)

    def _decide(self, button: Button, now_ms: int) -> list[Gesture]:
        press, wanted = self._open[button], self.wanted[button]
        press.decided = True
        if press.second_ms is not None:
            touch = Touch.DOUBLE
        elif press.released_ms is None and Touch.HOLD in wanted:
            touch = Touch.HOLD
        else:
            touch = Touch.TAP
        return [Gesture(button, touch, press.began_ms, now_ms)] if touch in wanted else []
