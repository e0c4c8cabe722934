"""Key presses from everywhere on the desktop, by pynput, as gestures.

pynput's thread only enqueues: on Windows all programs' typing waits for it. A thread of our own reads the
gestures, looks whether the listener still lives (it dies with the screen's server, and says nothing) and
builds it anew. Keys are never taken away from the program in front: a clicker goes on turning pages.
"""

import logging
import os
import sys
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any, TypeVar

from companion.clock import steady_s
from companion.language import _, later
from companion.pressing.gesture import (
    MODIFIERS,
    SPELLED_OUT,
    Button,
    Gesture,
    GestureReader,
    KeyEvent,
    Timings,
    Touch,
)

if TYPE_CHECKING:
    from pynput import keyboard

log = logging.getLogger(__name__)

T = TypeVar("T")
RawEvent = tuple[object, bool, int]
"""pynput's key, whether it went down, and when, in milliseconds of `steady_s`."""

X_MODIFIERS = {0xFFE7: "alt", 0xFFE8: "alt", 0xFE03: "alt_gr"}
"""X's Meta_L and Meta_R, as Alt is called while Shift is held, and ISO_Level3_Shift, the usual AltGr."""
CHECK_S = 1.0
"""How often the listener is looked at."""
SLEPT_S = 5.0
"""The clock that goes on in sleep and the one that does not are this far apart after it only."""
PATIENCE_S = 2.0
"""How long `start` and `close` wait for the desktop."""


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Why keys are not heard, or not everywhere, and what to do about it."""

    what: str
    to_do: str
    partial: bool = False
    """Some keys are heard all the same."""

    @property
    def reason(self) -> str:
        """Why, as it is told."""
        return _(self.what)

    @property
    def remedy(self) -> str:
        """What to do about it, as it is told."""
        return _(self.to_do)


NO_SCREEN = Obstacle(
    later("Keys can't be heard: there is no screen to hear them from."),
    later("Start the companion inside the desktop session; voice and page need no keys."),
)
NOT_INSTALLED = Obstacle(
    later("Keys can't be heard: the library for them (pynput) is not installed."),
    later("Install the program anew with the first command of its README, which brings it."),
)
NO_ANSWER = Obstacle(
    later("Keys are not heard at the moment: the screen does not answer."),
    later("It is tried again by itself; voice and page need no keys."),
)
WAYLAND = Obstacle(
    later("Keys are heard only while a program of the older kind is in front: this desktop uses Wayland."),
    later("Choose the Xorg session on the log-in screen, or use voice and page."),
    partial=True,
)
WAYLAND_ONLY = Obstacle(later("Keys can't be heard: this desktop uses Wayland."), WAYLAND.to_do)
NOT_TRUSTED = Obstacle(
    later("Keys can't be heard: macOS has not been asked to allow it."),
    later(
        "Allow the program or the terminal that runs the companion in System Settings > Privacy & Security, "
        "under Accessibility and Input Monitoring, and start the companion again."
    ),
)


def obstacle_of(environment: Mapping[str, str], platform: str) -> Obstacle | None:
    """Return what keeps a desktop on `platform` (as in `sys.platform`) from hearing keys."""
    if platform in ("win32", "darwin"):
        return None
    if not environment.get("DISPLAY"):
        return WAYLAND_ONLY if environment.get("WAYLAND_DISPLAY") else NO_SCREEN
    if environment.get("WAYLAND_DISPLAY") or environment.get("XDG_SESSION_TYPE") == "wayland":
        return WAYLAND
    return None


def key_name(key: Any) -> str | None:  # noqa: ANN401 - pynput's key types differ by platform
    """Return what the companion calls a key of pynput: "page_down", "p", "plus", "code_269025062"."""
    name: str | None = getattr(key, "name", None)
    if name is not None:
        base = name.removesuffix("_l").removesuffix("_r")
        return base if base in MODIFIERS else name
    char: str | None = getattr(key, "char", None)
    code: int | None = getattr(key, "vk", None)
    if code in X_MODIFIERS:
        return X_MODIFIERS[code]
    if char and char.isprintable():
        return SPELLED_OUT.get(char, char.lower())
    if sys.platform == "win32" and code is not None and chr(code).isalnum() and code < 0x5B:
        # With Ctrl held Windows names a control character instead of the letter; the code is the letter's.
        return chr(code).lower()
    return None if code is None else f"code_{code}"


class Hotkeys:
    """Listens to the keyboard until closed and hands each gesture on.

    wanted: the gestures asked of each button.
    deliver: called on the keys' own thread with gestures whose times are milliseconds of `steady_s`.
    observe: if given, called there with every key event too; for a page that asks to press a button.
    """

    def __init__(
        self,
        wanted: Mapping[Button, frozenset[Touch]],
        deliver: Callable[[Gesture], None],
        *,
        timings: Timings | None = None,
        observe: Callable[[KeyEvent], None] | None = None,
    ) -> None:
        self._wanted = wanted
        self._timings = timings or Timings()
        self._deliver = deliver
        self._observe = observe
        self._listener: keyboard.Listener | None = None
        self._events: SimpleQueue[RawEvent] = SimpleQueue()
        self._reader = GestureReader(wanted, self._timings)
        self._obstacle: Obstacle | None = NO_ANSWER
        self._looked = (0.0, 0.0)
        self._tried = threading.Event()
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._run, name="keys", daemon=True)

    @property
    def obstacle(self) -> Obstacle | None:
        """What keeps keys from being heard at the moment; None when all is well."""
        return self._obstacle

    def start(self) -> None:
        """Begin to listen; returns when it is known whether keys are heard, or after `PATIENCE_S`."""
        self._thread.start()
        self._tried.wait(PATIENCE_S)

    def rebind(self, wanted: Mapping[Button, frozenset[Touch]], timings: Timings) -> None:
        """Listen for other gestures from the next press on."""
        if (wanted, timings) != (self._wanted, self._timings):
            self._wanted, self._timings = wanted, timings
            self._reader = GestureReader(wanted, timings)

    def close(self) -> None:
        """Stop listening. Nothing is delivered afterwards."""
        self._closing.set()
        self._events.put((None, False, _now_ms()))
        if self._thread.is_alive():
            self._thread.join(PATIENCE_S)

    def _run(self) -> None:
        while not self._closing.is_set():
            self._look()
            for gesture in self._next_gestures():
                self._hand(self._deliver, gesture)
        self._drop()

    def _next_gestures(self) -> list[Gesture]:
        """Wait for the next key event, or until a gesture is due, and return what was decided by it."""
        try:
            key, pressed, at_ms = self._events.get(timeout=self._pause_s())
        except Empty:
            return self._reader.settle(_now_ms())
        name = key_name(key)
        if name is None:
            return self._reader.settle(at_ms)
        event = KeyEvent(name, pressed, at_ms)
        self._hand(self._observe, event)
        return self._reader.take(event)

    def _pause_s(self) -> float:
        due_ms = self._reader.due_ms
        return CHECK_S if due_ms is None else min(CHECK_S, max(0.0, (due_ms - _now_ms()) / 1000))

    def _hand(self, receiver: Callable[[T], None] | None, thing: T) -> None:
        """Hand `thing` over; what goes wrong there must not silence the keys."""
        if receiver is None or self._closing.is_set():
            return
        try:
            receiver(thing)
        except Exception:
            log.exception("what a key stands for could not be done")

    def _look(self) -> None:
        """See to it that a listener lives, and that it was born after the computer last slept."""
        now_s, awake_s = steady_s(), time.monotonic()
        elapsed_s, awake_elapsed_s = now_s - self._looked[0], awake_s - self._looked[1]
        if elapsed_s < CHECK_S:
            return
        slept = elapsed_s - awake_elapsed_s > SLEPT_S
        self._looked = (now_s, awake_s)
        if slept or self._listener is None or not self._listener.is_alive():
            self._drop()
            self._listen()
            self._tried.set()

    def _listen(self) -> None:
        """Start a new listener, with empty hands: what was held before may have been let go unheard."""
        self._events = SimpleQueue()
        self._reader = GestureReader(self._wanted, self._timings)
        before, self._obstacle = self._obstacle, NO_ANSWER
        self._obstacle = self._start_listener()
        if self._obstacle and (self._obstacle != before or not self._tried.is_set()):
            log.warning("%s", self._obstacle.reason)

    def _start_listener(self) -> Obstacle | None:
        obstacle = obstacle_of(os.environ, sys.platform)
        if obstacle and not obstacle.partial:
            return obstacle
        try:
            self._listener = _listener(self._events)
            self._listener.start()
            self._listener.wait()
        except ModuleNotFoundError:
            return NOT_INSTALLED
        except Exception as error:
            log.debug("no key listener: %s", error)
            return NO_ANSWER
        if not getattr(self._listener, "IS_TRUSTED", True):
            return NOT_TRUSTED
        return obstacle if self._listener.is_alive() else NO_ANSWER

    def _drop(self) -> None:
        """Let the listener go; it may be dead, and a live one ends only at the next key."""
        if self._listener is not None:
            try:
                self._listener.stop()
            except Exception as error:
                log.debug("the key listener was gone already: %s", error)
            self._listener = None


def _now_ms() -> int:
    return round(steady_s() * 1000)


def _listener(events: SimpleQueue[RawEvent]) -> "keyboard.Listener":
    """Return a listener that puts every key event into `events`. Raises ImportError without a screen."""
    from pynput import keyboard  # noqa: PLC0415 - fails without a screen, and only keys need it

    class Listener(keyboard.Listener):
        """One that ends quietly, and lets nobody wait for it in vain."""

        def run(self) -> None:
            try:
                super().run()
            except Exception as error:
                log.debug("the key listener ended: %s", error)
            finally:
                self._mark_ready()

    return Listener(
        on_press=lambda key: events.put((key, True, _now_ms())),
        on_release=lambda key: events.put((key, False, _now_ms())),
    )
