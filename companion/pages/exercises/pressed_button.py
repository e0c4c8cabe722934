"""A button that is pressed: what it is called, and what is to be said of binding it."""

import threading
from queue import Empty, SimpleQueue

from companion.clock import steady_s
from companion.errors import CompanionError
from companion.language import _, later
from companion.pressing.bindings import PAGING, Bindings, parse_press, written
from companion.pressing.gesture import Button, Gesture, KeyEvent, Timings, Touch
from companion.pressing.hotkeys import Hotkeys
from companion.pressing.wanted_key import ALTERNATING, Learner

TOUCHES = {
    Touch.TAP: later("{button}, once"),
    Touch.DOUBLE: later("{button}, twice quickly"),
    Touch.HOLD: later("{button}, held"),
}


class PressedButton:
    """Waits for gestures on any button, and keeps the last one."""

    step = "keys"

    def __init__(self, bindings: Bindings, timings: Timings) -> None:
        self._bindings = bindings
        self._timings = timings
        self._events: SimpleQueue[KeyEvent] = SimpleQueue()
        self._made: Gesture | None = None
        self._down = ""
        self._closed = threading.Event()
        self._hotkeys = Hotkeys({}, lambda _: None, timings=timings, observe=self._events.put)
        self._hotkeys.start()
        self._thread = threading.Thread(target=self._run, name="pressed button", daemon=True)
        self._thread.start()

    @property
    def resting(self) -> bool:
        """Whether nothing is waited for any more."""
        return self._closed.is_set()

    @property
    def obstacle(self) -> str:
        """Why keys are not heard, with the remedy; empty where they are."""
        found = self._hotkeys.obstacle
        return f"{found.reason} {found.remedy}" if found else ""

    @property
    def down(self) -> str:
        """What is pressed just now."""
        return self._down

    @property
    def press(self) -> str:
        """The gesture that was made, as the settings write it; empty before any."""
        made = self._made
        return written(made.button, made.touch) if made else ""

    @property
    def words(self) -> str:
        """The gesture that was made, in words."""
        made = self._made
        return _(TOUCHES[made.touch], button=_called(made.button)) if made else ""

    @property
    def refusal(self) -> str:
        """Why it can't be bound; empty where it can."""
        if not self.press:
            return ""
        try:
            gesture = parse_press(self.press)
        except CompanionError as error:
            return str(error)
        taken = self._bindings.commands.get(gesture)
        if not taken:
            return ""
        return _(
            "That is already for: {action}. Use another gesture or another button.", action=_(taken.action)
        )

    @property
    def meanwhile(self) -> str:
        """What the slides do at each press."""
        made = self._made
        if made is None:
            return ""
        if made.button.modifiers or not made.button.keys & (PAGING | ALTERNATING):
            return _("The slides do nothing with it.")
        if made.touch is Touch.DOUBLE:
            return _("The slides get both presses: they go on by two, or black out and come back.")
        if made.touch is Touch.HOLD:
            return _("The slides get it too: while it is held most computers turn many of them.")
        return _("The slides go on with it.")

    @property
    def stamp(self) -> str:
        """What changes with each press."""
        made = self._made
        return f"{self._down}-{made.at_ms if made else ''}-{self.resting}-{self.obstacle}"

    @property
    def level_dbfs(self) -> float | None:
        """No microphone is open."""
        return None

    def rest(self) -> None:
        """Wait for nothing any more."""
        self._closed.set()
        self._hotkeys.close()

    def _run(self) -> None:
        learner, held, over = Learner(self._timings), set[str](), set[str]()
        while not self._closed.is_set():
            made = None
            try:
                event = self._events.get(timeout=0.05)
            except Empty:
                made = learner.settle(round(steady_s() * 1000))
            else:
                self._down = event.key if event.pressed else ""
                (held.add if event.pressed else held.discard)(event.key)
                # A key that is held on after its gesture repeats: nothing new is meant by that.
                if event.key not in over:
                    made = learner.take(event)
                elif not event.pressed:
                    over.discard(event.key)
            if made is not None:
                over |= made.button.keys & held
                self._made = _together(self._made, made)


def _together(before: Gesture | None, made: Gesture) -> Gesture:
    """Return one button that sends two keys in turn as one, where both were pressed."""
    if before is None or made.button.modifiers or before.touch is not made.touch:
        return made
    keys = before.button.keys | made.button.keys
    if before.button.keys <= ALTERNATING and made.button.keys <= ALTERNATING and len(keys) > 1:
        return Gesture(Button(keys), made.touch, made.at_ms, made.decided_ms)
    return made


def _called(button: Button) -> str:
    """Return a button as people call it: `page_down` is page down."""
    return str(button).replace("_", " ").replace("+", " + ")
