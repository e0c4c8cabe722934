"""Which gesture was made on a button that nobody named before."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.pressing.bindings import written
from companion.pressing.gesture import Button, Gesture, GestureReader, KeyEvent, Touch
from companion.pressing.wanted_key import Learner


def stroke(key: str, down_ms: int, up_ms: int) -> list[KeyEvent]:
    """Return a press and a release."""
    return [KeyEvent(key, True, down_ms), KeyEvent(key, False, up_ms)]


def learnt(events: list[KeyEvent]) -> Gesture | None:
    """Return the first gesture in `events`."""
    learner = Learner()
    made = next((made for event in events if (made := learner.take(event))), None)
    return made or learner.settle(10**9)


@pytest.mark.parametrize(
    ("events", "text"),
    [
        (stroke("f9", 0, 60), "f9"),
        (stroke("page_down", 0, 900), "page_down hold"),
        (stroke(".", 0, 60) + stroke(".", 200, 260), ". double"),
        (stroke("f5", 0, 60) + stroke("esc", 200, 260), "esc/f5 double"),
        (stroke("f5", 0, 60), "f5"),
        ([KeyEvent("enter", False, 0), *stroke("f9", 90, 120)], "f9"),
        ([KeyEvent("ctrl", True, 0), KeyEvent("alt", True, 5), *stroke("p", 20, 70)], "ctrl+alt+p"),
        ([*stroke("ctrl", 0, 5), *stroke("f9", 20, 70)], "f9"),
    ],
)
def test_the_first_gesture_is_named_as_a_binding(events: list[KeyEvent], text: str) -> None:
    """Tap, double, hold, a chord, and a button that sends two keys come out as the text that binds them."""
    made = learnt(events)
    assert made is not None
    assert written(made.button, made.touch) == text


def test_nothing_pressed_is_nothing_learnt() -> None:
    """Modifiers alone and a release without a press are no gesture."""
    assert learnt([*stroke("shift", 0, 500), KeyEvent("f9", False, 600)]) is None


@given(
    st.sampled_from(["f9", "page_down", "b"]),
    st.frozensets(st.sampled_from(["ctrl", "alt"])),
    st.lists(st.tuples(st.integers(20, 900), st.integers(20, 1500)), min_size=1, max_size=3),
)
def test_what_was_learnt_is_heard_again(key: str, held: frozenset[str], spans: list[tuple[int, int]]) -> None:
    """The same presses, made in a lesson, give the gesture that was learnt from them."""
    events, now = [KeyEvent(modifier, True, 0) for modifier in sorted(held)], 0
    for pause, length in spans:
        events += stroke(key, now + pause, now + pause + length)
        now += pause + length
    made = learnt(events)
    assert made is not None
    reader = GestureReader({Button(frozenset({key}), held): frozenset(Touch)})
    again = [gesture for event in events for gesture in reader.take(event)] + reader.settle(10**9)
    assert again[0] == made
