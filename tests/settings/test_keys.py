"""Keys in the settings file."""

import pytest

from companion.errors import CompanionError
from companion.lesson.command import Action
from companion.pressing.gesture import Button, Gesture, Timings, Touch
from companion.settings.settings import parse_settings

PLAN = """
[[plans]]
name = "garden"
phases = [{ name = "arrival", minutes = 5 }, { name = "cleanup", minutes = 5 }]
"""


def test_keys_are_read_with_their_commands() -> None:
    """A key may praise a table, go to a phase and close the microphone; timings are the teacher's."""
    settings = parse_settings(
        PLAN
        + """
        [school]
        tables = ["Birch"]
        [gestures]
        double_ms = 300
        [[keys]]
        press = "page_down hold"
        does = "praise"
        table = "Birch"
        [[keys]]
        press = "ctrl+alt+c"
        does = "phase"
        phase = "cleanup"
        [[keys]]
        press = "f9"
        does = "resume listening"
        """,
        "companion.toml",
    )
    assert settings.gestures.timings() == Timings(double_ms=300)
    praise = settings.bindings.command_for(Gesture(Button(frozenset({"page_down"})), Touch.HOLD, 0, 0))
    assert praise is not None
    assert (praise.action, praise.scope) == (Action.PRAISE, "table birch")
    assert {command.action for command in settings.bindings.commands.values()} == {
        Action.PRAISE,
        Action.PHASE,
        Action.RESUME,
    }


@pytest.mark.parametrize(
    ("keys", "reason"),
    [
        ('press = "p"\ndoes = "praise"', r"keys\[1\].*'p' is a plain character.*Use 'ctrl\+alt\+p'"),
        ('press = "f9"\ndoes = "dance"', r"keys\[1\].does = 'dance'"),
        ('press = "f9"\ndoes = "phase"', "say which"),
        ('press = "f9"\ndoes = "phase"\nphase = "nap"', "the phase 'nap', which no plan has"),
        ('press = "f9"\ndoes = "note"', "say which kind"),
        ('press = "f9"\ndoes = "praise"\ntable = "Bob Smith"', "'bob smith', which the school has not"),
        ('press = "f9"\ndoes = "undo"\ntable = "birch"', "only praise and reminder"),
        ('press = "f9"\ndoes = "praise"\n[[keys]]\npress = "F9 tap"\ndoes = "undo"', "bound twice"),
        ('press = "f9"\ndoes = "praise"\n[gestures]\nhold_ms = 5', r"gestures.hold_ms = 5"),
    ],
)
def test_a_wrong_key_is_named_with_file_and_remedy(keys: str, reason: str) -> None:
    """Each wrong binding names the file, the place, the value and what to do."""
    with pytest.raises(CompanionError, match=reason) as refused:
        parse_settings(f"{PLAN}\n[[keys]]\n{keys}", "companion.toml")
    assert "companion.toml" in str(refused.value)
