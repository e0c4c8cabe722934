"""Bindings as text: what may be bound, and what is refused with the key named."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.errors import CompanionError
from companion.lesson.command import Action, Command
from companion.pressing.bindings import bind, parse_press, written
from companion.pressing.gesture import Button, Gesture, Touch

PRAISE, REMINDER = Command(Action.PRAISE), Command(Action.REMINDER)


@pytest.mark.parametrize(
    ("text", "button", "touch"),
    [
        ("ctrl+alt+p", Button(frozenset({"p"}), frozenset({"ctrl", "alt"})), Touch.TAP),
        ("page_down hold", Button(frozenset({"page_down"})), Touch.HOLD),
        ("PgDn Hold", Button(frozenset({"page_down"})), Touch.HOLD),
        ("f5/esc double", Button(frozenset({"f5", "esc"})), Touch.DOUBLE),
        ("F9", Button(frozenset({"f9"})), Touch.TAP),
        ("period double", Button(frozenset({"."})), Touch.DOUBLE),
        ("b hold", Button(frozenset({"b"})), Touch.HOLD),
        ("code_269025062 tap", Button(frozenset({"code_269025062"})), Touch.TAP),
        ("Control+Option+plus", Button(frozenset({"plus"}), frozenset({"ctrl", "alt"})), Touch.TAP),
    ],
)
def test_text_describes_a_gesture(text: str, button: Button, touch: Touch) -> None:
    """Names of keys and modifiers are read in any case and by their usual other names."""
    assert parse_press(text) == (button, touch)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("p", "plain character"),
        ("p double", "plain character"),
        ("7 hold", "plain character"),
        ("space double", "plain character"),
        ("shift+p", "plain character"),
        ("alt_gr+e", "plain character"),
        ("ctrl+p", "program in front"),
        ("ctrl+alt+shift+1", "another name"),
        ("page_down", "left to the slides"),
        ("f5", "left to the slides"),
        ("esc/f5 tap", "left to the slides"),
        ("b", "left to the slides"),
        ("volume_up", "left to the slides"),
        ("enter double", "while writing"),
        ("alt+tab", "desktop itself"),
        ("super+p", "desktop itself"),
        ("ctrl+alt+delete", "desktop itself"),
        ("caps_lock hold", "desktop itself"),
        ("ctrl+alt", "only a modifier"),
        ("p+ctrl", "only a modifier"),
        ("a+b", "not a modifier"),
        ("f99", "not the name of a key"),
        ("ctrl++", "not the name of a key"),
        ("f9 thrice", "does not describe a key"),
        ("", "does not describe a key"),
        ("hold", "not the name of a key"),
    ],
)
def test_what_may_not_be_bound_is_refused_by_name(text: str, reason: str) -> None:
    """Typing, slides, the desktop, and what is no key: each refusal says which key, why, and what now."""
    with pytest.raises(CompanionError, match=reason) as refused:
        parse_press(text)
    assert refused.value.remedy
    assert f"'{text}'" in str(refused.value)


def test_one_gesture_has_one_command() -> None:
    """The same gesture twice is refused however it is written, and other gestures of the key are not."""
    with pytest.raises(CompanionError, match=r"double of 'esc/f5' is bound twice.*praise.*reminder"):
        bind([("f5/esc double", PRAISE), ("Escape/F5 double", REMINDER)])
    bindings = bind([("f9", PRAISE), ("f9 double", REMINDER), ("ctrl+f9", REMINDER)])
    f9 = Button(frozenset({"f9"}))
    assert bindings.wanted[f9] == {Touch.TAP, Touch.DOUBLE}
    assert bindings.command_for(Gesture(f9, Touch.DOUBLE, 0, 0)) == REMINDER
    assert bindings.command_for(Gesture(f9, Touch.HOLD, 0, 0)) is None


def test_one_key_has_one_button() -> None:
    """A key can't be a button of its own and part of a clicker's button that sends two keys."""
    with pytest.raises(CompanionError, match="'esc' belongs to two buttons"):
        bind([("f5/esc double", PRAISE), ("esc hold", REMINDER)])


def readable(text: str) -> tuple[Button, Touch] | None:
    """Return what `text` describes, or None where it is refused."""
    try:
        return parse_press(text)
    except CompanionError:
        return None


keys = st.sampled_from(["f1", "f12", "page_up", "page_down", ".", "b", "p", "7", "plus", "esc", "enter"])
held = st.frozensets(st.sampled_from(["ctrl", "alt", "shift"]))


@given(st.frozensets(keys, min_size=1, max_size=2), held, st.sampled_from(list(Touch)))
def test_what_is_written_is_read_back(keys: frozenset[str], held: frozenset[str], touch: Touch) -> None:
    """Every gesture that may be bound is read back from its own text."""
    text = written(Button(keys, held), touch)
    assert readable(text) in (None, (Button(keys, held), touch))


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused(text: str) -> None:
    """Whatever stands in the settings is a gesture or a plain refusal, never another error."""
    readable(text)
