"""Real key events on a virtual screen, and desktops on which keys can't be heard."""

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import SimpleNamespace

import pytest

from companion.pressing.gesture import Button, Gesture, KeyEvent, Timings, Touch
from companion.pressing.hotkeys import (
    NO_ANSWER,
    NO_SCREEN,
    WAYLAND,
    WAYLAND_ONLY,
    Hotkeys,
    key_name,
    obstacle_of,
)
from tests.rig import Screen, open_screen
from tests.systems import needs_x11

WANTED = {
    Button(frozenset({"page_down"})): frozenset({Touch.HOLD, Touch.DOUBLE}),
    Button(frozenset({"f9"})): frozenset({Touch.TAP}),
    Button(frozenset({"p"}), frozenset({"ctrl", "alt"})): frozenset({Touch.TAP}),
}
UNHURRIED = Timings(double_ms=1500, hold_ms=2500)
"""Wide enough for a busy machine, on which a tap may seem long."""


class Heard:
    """Collects what a listener hands on, and waits for it."""

    def __init__(self) -> None:
        self.gestures: list[Gesture] = []
        self.news = threading.Condition()

    def take(self, gesture: Gesture) -> None:
        """Keep a gesture."""
        with self.news:
            self.gestures.append(gesture)
            self.news.notify()

    def wait_for(self, count: int) -> list[str]:
        """Return the first `count` gestures as text, or what there is when nothing more comes."""
        with self.news:
            self.news.wait_for(lambda: len(self.gestures) >= count, timeout=20)
            return [f"{gesture.button} {gesture.touch}" for gesture in self.gestures]


@contextmanager
def listening(deliver: Callable[[Gesture], None]) -> Iterator[Hotkeys]:
    """Listen to `WANTED` for a while."""
    hotkeys = Hotkeys(WANTED, deliver, timings=UNHURRIED)
    hotkeys.start()
    try:
        yield hotkeys
    finally:
        hotkeys.close()


def until(condition: Callable[[], bool]) -> bool:
    """Wait until `condition` holds; return whether it does."""
    end_s = time.monotonic() + 20
    while not condition() and time.monotonic() < end_s:
        time.sleep(0.05)
    return condition()


@needs_x11
def test_real_keys_become_gestures(screen: Screen) -> None:
    """A key, a chord, a hold with its repeats and a double, pressed on a real screen, are each heard once."""
    heard = Heard()
    with listening(heard.take) as hotkeys:
        assert hotkeys.obstacle is None
        screen.down("alt", "shift")
        screen.up("alt", "shift")
        screen.tap("F9", held_s=0.8)
        screen.down("ctrl", "alt", "p")
        screen.up("p", "alt", "ctrl")
        screen.tap("Next")
        time.sleep(1.8)
        screen.down("Next")
        heard.wait_for(3)
        screen.up("Next")
        screen.press("keydown", "Next", "keyup", "Next", "keydown", "Next", "keyup", "Next")
        expected = ["f9 tap", "ctrl+alt+p tap", "page_down hold", "page_down double"]
        assert heard.wait_for(4) == expected


@needs_x11
def test_other_bindings_hold_from_the_next_press_on(screen: Screen) -> None:
    """Settings may change while the companion runs."""
    heard = Heard()
    with listening(heard.take) as hotkeys:
        screen.tap("F9")
        assert heard.wait_for(1) == ["f9 tap"]
        hotkeys.rebind({Button(frozenset({"f10"})): frozenset({Touch.TAP})}, UNHURRIED)
        screen.tap("F9")
        screen.tap("F10")
        assert heard.wait_for(2) == ["f9 tap", "f10 tap"]


@needs_x11
def test_a_failing_receiver_does_not_silence_the_keys(screen: Screen) -> None:
    """When what a key stands for goes wrong, the next key is heard all the same."""
    heard = Heard()

    def fail_once(gesture: Gesture) -> None:
        heard.take(gesture)
        if len(heard.gestures) == 1:
            raise RuntimeError("made up")

    with listening(fail_once):
        screen.tap("F9")
        screen.tap("F9")
        assert heard.wait_for(2) == ["f9 tap", "f9 tap"]


@needs_x11
def test_keys_come_back_with_the_screen(screen: Screen) -> None:
    """A screen that dies is noticed and named; when it is back, the keys are heard again by themselves."""
    heard = Heard()
    with listening(heard.take) as hotkeys:
        screen.down("Next")
        screen.go_dark()
        assert until(lambda: hotkeys.obstacle == NO_ANSWER)
        with open_screen(screen.display) as back:
            assert until(lambda: hotkeys.obstacle is None)
            back.tap("F9")
            assert heard.wait_for(1)[-1] == "f9 tap"


@pytest.mark.usefixtures("no_screen")
@needs_x11
def test_without_a_screen_there_is_a_reason_and_a_remedy() -> None:
    """Without a screen nothing crashes: the obstacle says why and what to do."""
    with listening(lambda _: None) as hotkeys:
        assert hotkeys.obstacle == NO_SCREEN
        assert "voice and page" in NO_SCREEN.remedy


@needs_x11
def test_nothing_is_delivered_after_closing(screen: Screen) -> None:
    """A key pressed after the end of listening goes nowhere."""
    heard = Heard()
    with listening(heard.take):
        screen.tap("F9")
        assert heard.wait_for(1) == ["f9 tap"]
    screen.tap("F9")
    assert len(heard.gestures) == 1


@needs_x11
def test_an_observer_sees_the_names_of_keys(screen: Screen) -> None:
    """Who asks to press a button sees every key by the name that a binding uses."""
    seen: list[KeyEvent] = []
    hotkeys = Hotkeys({}, lambda _: None, observe=seen.append)
    hotkeys.start()
    try:
        for key in ("Prior", "b", "plus", "XF86AudioRaiseVolume", "XF86Back"):
            screen.tap(key)
        assert until(lambda: any(event.key.startswith("code_") for event in seen))
    finally:
        hotkeys.close()
    names = [event.key for event in seen if event.pressed]
    assert names == ["page_up", "b", "shift", "plus", "media_volume_up", "code_269025062"]


@pytest.mark.parametrize(
    ("environment", "platform", "expected"),
    [
        ({"DISPLAY": ":0"}, "linux", None),
        ({}, "linux", NO_SCREEN),
        ({"WAYLAND_DISPLAY": "wayland-0"}, "linux", WAYLAND_ONLY),
        ({"DISPLAY": ":0", "WAYLAND_DISPLAY": "wayland-0"}, "linux", WAYLAND),
        ({"DISPLAY": ":0", "XDG_SESSION_TYPE": "wayland"}, "linux", WAYLAND),
        ({}, "win32", None),
        ({}, "darwin", None),
    ],
)
def test_the_desktop_says_what_stands_in_the_way(
    environment: dict[str, str], platform: str, expected: object
) -> None:
    """Each kind of desktop has its own obstacle, or none."""
    assert obstacle_of(environment, platform) == expected


@needs_x11
@pytest.mark.parametrize(
    ("key", "name"),
    [
        (SimpleNamespace(name="ctrl_r"), "ctrl"),
        (SimpleNamespace(name="alt_gr"), "alt_gr"),
        (SimpleNamespace(char="P", vk=80), "p"),
        (SimpleNamespace(char="/", vk=47), "slash"),
        (SimpleNamespace(char="\x10", vk=80), "code_80"),
        (SimpleNamespace(char=None, vk=166), "code_166"),
        (SimpleNamespace(char=None, vk=0xFFE7), "alt"),
        (None, None),
    ],
)
def test_a_key_has_one_name(key: object, name: str | None) -> None:
    """Left and right, large and small, signs with a meaning in a binding: each has one plain name."""
    assert key_name(key) == name


def test_windows_names_the_letter_behind_a_control_character(monkeypatch: pytest.MonkeyPatch) -> None:
    """On Windows a letter pressed with Ctrl keeps the letter's name."""
    monkeypatch.setattr("sys.platform", "win32")
    assert key_name(SimpleNamespace(char="\x10", vk=80)) == "p"
