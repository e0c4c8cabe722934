"""Gestures from key events: when each is decided, and what can not disturb it."""

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from companion.pressing.gesture import Button, Gesture, GestureReader, KeyEvent, Timings, Touch

TIMINGS = Timings()
PAGE_DOWN = Button(frozenset({"page_down"}))
F9 = Button(frozenset({"f9"}))
CHORD = Button(frozenset({"p"}), frozenset({"ctrl", "alt"}))
BLANK = Button(frozenset({"b"}))
SHOW = Button(frozenset({"f5", "esc"}))
EVERYTHING = frozenset(Touch)
SECOND = 1_000


def read(wanted: dict[Button, frozenset[Touch]], events: list[KeyEvent]) -> list[Gesture]:
    """Return all gestures in `events`, with a minute of silence after the last."""
    reader = GestureReader(wanted, TIMINGS)
    gestures = [gesture for event in events for gesture in reader.take(event)]
    return gestures + reader.settle(10**9)


def stroke(key: str, down_ms: int, up_ms: int) -> list[KeyEvent]:
    """Return a press and a release."""
    return [KeyEvent(key, True, down_ms), KeyEvent(key, False, up_ms)]


def told(gestures: list[Gesture]) -> list[tuple[str, str, int, int]]:
    """Return gestures as plain values."""
    return [(str(g.button), g.touch.value, g.at_ms, g.decided_ms) for g in gestures]


def test_a_lone_tap_is_decided_at_the_press() -> None:
    """Where only a tap is asked of a button, it is decided at once, and once however long the key is held."""
    events = stroke("f9", 50, 5 * SECOND)
    assert told(read({F9: frozenset({Touch.TAP})}, events)) == [("f9", "tap", 50, 50)]


def test_three_gestures_on_one_button() -> None:
    """A tap waits out the double, a double is decided at its second press, a hold when its time is over."""
    events = stroke("f9", 0, 80) + stroke("f9", 1000, 1080) + stroke("f9", 1250, 1330)
    events += stroke("f9", 3000, 4500)
    assert told(read({F9: EVERYTHING}, events)) == [
        ("f9", "tap", 0, 400),
        ("f9", "double", 1000, 1250),
        ("f9", "hold", 3000, 3700),
    ]


def test_a_tap_beside_a_hold_is_decided_at_its_release() -> None:
    """A button with tap and hold needs no double's wait: the tap is sure once a bounce is ruled out."""
    assert told(read({F9: frozenset({Touch.TAP, Touch.HOLD})}, stroke("f9", 0, 90))) == [("f9", "tap", 0, 95)]


def test_a_tap_that_nobody_asked_for_is_left_alone() -> None:
    """Paging with a button whose hold and double are bound gives no gesture, slow or fast within reason."""
    events = [e for n in range(8) for e in stroke("page_down", n * 600, n * 600 + 120)]
    assert read({PAGE_DOWN: frozenset({Touch.HOLD, Touch.DOUBLE})}, events) == []


def test_a_chord_needs_exactly_its_modifiers() -> None:
    """A chord with a modifier more or less is not that chord, and a bare key is not a chord."""
    tap = {CHORD: frozenset({Touch.TAP}), F9: frozenset({Touch.TAP})}
    down = [KeyEvent("ctrl", True, 0), KeyEvent("alt", True, 10)]
    assert told(read(tap, [*down, *stroke("p", 20, 60)])) == [("ctrl+alt+p", "tap", 20, 20)]
    assert read(tap, [*down, KeyEvent("shift", True, 15), *stroke("p", 20, 60)]) == []
    assert read(tap, [down[0], *stroke("p", 20, 60)]) == []
    assert read(tap, [down[0], *stroke("f9", 20, 60)]) == []


def test_modifiers_may_be_let_go_first() -> None:
    """A chord's hold goes on when the modifiers are released before the key."""
    events = [KeyEvent("ctrl", True, 0), KeyEvent("alt", True, 0), KeyEvent("p", True, 20)]
    events += [KeyEvent("ctrl", False, 300), KeyEvent("alt", False, 310), KeyEvent("p", False, 900)]
    assert told(read({CHORD: frozenset({Touch.HOLD})}, events)) == [("ctrl+alt+p", "hold", 20, 720)]


def test_a_button_that_sends_two_keys_in_turn() -> None:
    """A clicker's button that starts and ends the show in turn is one button: F5 then Esc is its double."""
    assert told(read({SHOW: EVERYTHING}, stroke("f5", 0, 60) + stroke("esc", 240, 300))) == [
        ("esc/f5", "double", 0, 240)
    ]


def test_typing_never_makes_a_gesture_of_a_letter() -> None:
    """A bound letter inside a word, even doubled, is typing; pressed twice by itself it is a gesture."""
    wanted = {BLANK: frozenset({Touch.DOUBLE, Touch.HOLD})}
    word = [e for n, key in enumerate("rabbit") for e in stroke(key, n * 120, n * 120 + 60)]
    start = [e for n, key in enumerate("bbq") for e in stroke(key, n * 120, n * 120 + 60)]
    assert read(wanted, word) == []
    assert read(wanted, start) == []
    assert told(read(wanted, stroke("b", 0, 60) + stroke("b", 200, 260))) == [("b", "double", 0, 400)]
    assert told(read(wanted, stroke("b", 0, 900))) == [("b", "hold", 0, 700)]


def test_a_letter_soon_after_another_key_is_typing() -> None:
    """A bound letter that stays down at the end of a word is no hold, at any hour; by itself it is one."""
    wanted = {BLANK: frozenset({Touch.HOLD})}
    hour = 3_600 * SECOND
    soon, late = hour + TIMINGS.double_ms - 1, hour + TIMINGS.double_ms
    assert read(wanted, stroke("a", hour, hour + 60) + stroke("b", soon, soon + 900)) == []
    assert told(read(wanted, stroke("a", hour, hour + 60) + stroke("b", late, late + 900))) == [
        ("b", "hold", late, late + TIMINGS.hold_ms)
    ]
    assert len(read(wanted, stroke("b", 0, 60) + stroke("b", 200, 260) + stroke("b", 500, 1400))) == 1


def test_two_buttons_at_once_are_each_decided_at_their_own_time() -> None:
    """A tap on one while the other is held comes first, and leaves the other its hold."""
    events = [KeyEvent("page_down", True, 0), *stroke("f9", 100, 150), KeyEvent("page_down", False, 1000)]
    assert told(read({PAGE_DOWN: EVERYTHING, F9: EVERYTHING}, events)) == [
        ("f9", "tap", 100, 500),
        ("page_down", "hold", 0, 700),
    ]


def test_a_lost_release_heals() -> None:
    """After a release that was lost to a locked screen the key and its chords work again."""
    lost = [KeyEvent("cmd", True, 0)]
    soon, late = (stroke("f9", s * SECOND, s * SECOND + 50) for s in (6, 40))
    assert len(read({F9: frozenset({Touch.TAP})}, lost + soon)) == 1
    modified = TIMINGS.modifier_ms - 1
    assert read({F9: frozenset({Touch.TAP})}, lost + stroke("f9", modified, modified + 50)) == []
    assert len(read({F9: frozenset({Touch.TAP})}, lost + stroke("f9", modified + 1, modified + 50))) == 1
    stuck = [KeyEvent("f9", True, 0)]
    assert [g.at_ms for g in read({F9: frozenset({Touch.TAP})}, stuck + late)] == [0, 40 * SECOND]


def test_a_chord_can_be_pressed_again_and_again_while_its_modifiers_stay_down() -> None:
    """Ctrl and Alt held for ten seconds with a p every two of them: each is the chord."""
    down = [KeyEvent("ctrl", True, 0), KeyEvent("alt", True, 10)]
    presses = [e for s in range(1, 11, 2) for e in stroke("p", s * SECOND, s * SECOND + 60)]
    assert len(read({CHORD: frozenset({Touch.TAP})}, down + presses)) == 5


def test_a_modifier_released_under_another_name_is_not_held() -> None:
    """A release that nobody pressed ends all modifiers: with Shift, Alt may be let go as another key."""
    events = [KeyEvent("alt", True, 0), KeyEvent("shift", True, 50), KeyEvent("code_65032", False, 90)]
    events += [KeyEvent("shift", False, 95), *stroke("f9", 500, 550)]
    assert len(read({F9: frozenset({Touch.TAP})}, events)) == 1


def test_a_bouncing_contact_is_one_press() -> None:
    """A release and press within the bounce time neither doubles a gesture nor ends a hold."""
    events = [*stroke("f9", 0, 50), *stroke("f9", 54, 1000)]
    assert told(read({F9: EVERYTHING}, events)) == [("f9", "hold", 0, 700)]
    assert len(read({F9: frozenset({Touch.TAP})}, events)) == 1
    anew = 50 + TIMINGS.bounce_ms
    assert told(read({F9: EVERYTHING}, stroke("f9", 0, 50) + stroke("f9", anew, 100))) == [
        ("f9", "double", 0, anew)
    ]


Strokes = list[tuple[int, int]]
"""How long each pause and each press lasts, in milliseconds."""

strokes = st.lists(
    st.tuples(st.integers(TIMINGS.bounce_ms, 900), st.integers(TIMINGS.bounce_ms, 1500)), max_size=8
)
touches = st.frozensets(st.sampled_from(list(Touch)), min_size=1)


def pressed(spans: Strokes, key: str = "page_down") -> list[KeyEvent]:
    """Lay pauses and presses end to end."""
    events, now = [], 0
    for pause, held in spans:
        events += stroke(key, now + pause, now + pause + held)
        now += pause + held
    return events


@given(strokes, touches)
def test_every_gesture_is_decided_within_its_window(spans: Strokes, wanted: frozenset[Touch]) -> None:
    """Nothing is decided before its press or later than the button's window, and each press serves once."""
    gestures = read({PAGE_DOWN: wanted}, pressed(spans))
    for gesture in gestures:
        assert gesture.touch in wanted
        assert 0 <= gesture.decided_ms - gesture.at_ms <= TIMINGS.window_ms(wanted)
    assert sum(2 if g.touch is Touch.DOUBLE else 1 for g in gestures) <= len(spans)
    assert [g.decided_ms for g in gestures] == sorted(g.decided_ms for g in gestures)


@given(strokes, touches, st.data())
def test_repeats_and_ticks_change_nothing(
    spans: Strokes, wanted: frozenset[Touch], data: st.DataObject
) -> None:
    """Repeats of a held key, and asking at any moment whether something is due, give the same gestures."""
    events = pressed(spans)
    plain = read({PAGE_DOWN: wanted}, events)
    reader, gestures = GestureReader({PAGE_DOWN: wanted}, TIMINGS), []
    for event in events:
        gestures += reader.take(event)
        if event.pressed:
            up_ms = next(e.at_ms for e in events if not e.pressed and e.at_ms > event.at_ms)
            for at_ms in sorted(data.draw(st.lists(st.integers(event.at_ms, up_ms), max_size=4))):
                gestures += reader.settle(at_ms)
                gestures += reader.take(replace(event, at_ms=at_ms))
    assert gestures + reader.settle(10**9) == plain


@given(strokes, st.lists(st.booleans(), min_size=8, max_size=8))
def test_single_strokes_agree_with_the_rule(spans: Strokes, spaced: list[bool]) -> None:
    """Presses far apart are a hold when as long as a hold, else a tap; pairs in time are a double."""
    apart = [
        (pause + 1000 if gap else pause, min(held, 1500))
        for (pause, held), gap in zip(spans, spaced, strict=False)
    ]
    events = pressed(apart)
    downs = [e.at_ms for e in events if e.pressed]
    ups = [e.at_ms for e in events if not e.pressed]
    expected, n = [], 0
    while n < len(downs):
        if n + 1 < len(downs) and downs[n + 1] - downs[n] < TIMINGS.double_ms:
            expected.append((Touch.DOUBLE, downs[n]))
            n += 2
            continue
        held = ups[n] - downs[n] >= TIMINGS.hold_ms
        expected.append((Touch.HOLD if held else Touch.TAP, downs[n]))
        n += 1
    gestures = [(g.touch, g.at_ms) for g in read({PAGE_DOWN: EVERYTHING}, events)]
    assert gestures == expected


def test_a_held_key_that_repeats_late_in_the_day_is_one_press() -> None:
    """Only a key that was not heard of for long is taken as pressed anew: its release was lost."""
    late = 3_600 * SECOND
    held = [KeyEvent("f9", True, late + n * 30) for n in range(20)]
    tap = {F9: frozenset({Touch.TAP})}
    assert len(read(tap, held)) == 1
    lost = KeyEvent("f9", True, late + 19 * 30 + TIMINGS.forgotten_ms)
    assert len(read(tap, [*held, lost])) == 2
