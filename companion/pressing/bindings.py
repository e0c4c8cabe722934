"""Which gesture stands for which command, written as text: `ctrl+alt+p`, `page_down hold`, `f5/esc double`.

What the text may say is narrower than what can be pressed: typing, turning slides and the desktop's own
keys go on as before.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.command import Command
from companion.pressing.gesture import MODIFIERS, SPELLED_OUT, Button, Gesture, Touch, types

CLICKER_CHARACTERS = frozenset({".", ",", "b", "w"})
"""Characters that clickers send to blank the screen: the only ones that may be bound without a modifier."""

VOLUME = frozenset({"media_volume_up", "media_volume_down", "media_volume_mute"})

PAGING = (
    frozenset({"page_up", "page_down", "left", "right", "up", "down", "home", "end", "f5", "esc"})
    | CLICKER_CHARACTERS
    | VOLUME
)
"""Keys whose tap is left to the slides or the loudspeaker."""

WRITING = frozenset({"enter", "tab", "backspace", "delete"})
"""Keys that are pressed twice in a row while writing; they may only be held."""

OTHER_KEYS = (
    frozenset({"insert", "menu", "pause", "media_stop", "media_eject"})
    | frozenset({"media_play_pause", "media_previous", "media_next"})
    | frozenset(f"f{n}" for n in range(1, 25))
    | frozenset(SPELLED_OUT.values())
)

ALIASES = {
    "pageup": "page_up",
    "pgup": "page_up",
    "prior": "page_up",
    "pagedown": "page_down",
    "pgdn": "page_down",
    "pgdown": "page_down",
    "next": "page_down",
    "escape": "esc",
    "return": "enter",
    "period": ".",
    "dot": ".",
    "comma": ",",
    "volume_up": "media_volume_up",
    "volume_down": "media_volume_down",
    "mute": "media_volume_mute",
    "control": "ctrl",
    "option": "alt",
    "altgr": "alt_gr",
    "super": "cmd",
    "win": "cmd",
    "windows": "cmd",
    "meta": "cmd",
    "command": "cmd",
}
"""Other names that people use."""

DESKTOP_KEYS = frozenset({"caps_lock", "num_lock", "scroll_lock", "print_screen", "menu"})

DESKTOP_CHORDS = frozenset(
    [
        ("alt", "tab"),
        ("alt", "esc"),
        ("alt", "space"),
        ("alt", "enter"),
        *[("alt", f"f{n}") for n in range(1, 11)],
        ("alt+shift", "tab"),
        ("ctrl", "esc"),
        ("ctrl", "tab"),
        ("ctrl+shift", "esc"),
        ("ctrl+alt", "delete"),
        ("ctrl+alt", "backspace"),
        ("ctrl+alt", "tab"),
        ("ctrl+alt", "esc"),
        *[("ctrl+alt", key) for key in ("l", "t", "d", "up", "down", "left", "right")],
        *[("ctrl+alt", f"f{n}") for n in range(1, 13)],
        *[("ctrl", key) for key in ("up", "down", "left", "right", "space", "f4")],
    ]
)
"""Chords that a widespread desktop (Windows, macOS, GNOME, KDE, Xfce) takes for itself."""


@dataclass(frozen=True, slots=True)
class Bindings:
    """Checked bindings: no gesture stands for two commands, no key belongs to two buttons."""

    commands: Mapping[tuple[Button, Touch], Command]

    @property
    def wanted(self) -> dict[Button, frozenset[Touch]]:
        """The gestures asked of each button, as a `GestureReader` wants them."""
        buttons = {button for button, _ in self.commands}
        return {b: frozenset(touch for button, touch in self.commands if button == b) for b in buttons}

    def command_for(self, gesture: Gesture) -> Command | None:
        """Return what `gesture` stands for."""
        return self.commands.get((gesture.button, gesture.touch))


def bind(pairs: Iterable[tuple[str, Command]]) -> Bindings:
    """Return the bindings for pairs of text and command.

    Raises CompanionError, naming the key, for a text that may not be bound or one that is bound already.
    """
    commands: dict[tuple[Button, Touch], Command] = {}
    texts: dict[tuple[Button, Touch], str] = {}
    for text, command in pairs:
        button, touch = gesture = parse_press(text)
        if gesture in commands:
            raise CompanionError(
                _(
                    "The {touch} of '{button}' is bound twice, to '{first}' and to '{second}'.",
                    touch=touch,
                    button=button,
                    first=_(commands[gesture].action),
                    second=_(command.action),
                ),
                remedy=_("Keep one of them, or use another gesture of the key (tap, double, hold)."),
            )
        for (other, _touch), other_text in texts.items():
            shared = button.keys & other.keys if button.modifiers == other.modifiers else frozenset()
            if button != other and shared:
                raise CompanionError(
                    _(
                        "The key '{key}' belongs to two buttons, '{first}' and '{second}'.",
                        key=min(shared),
                        first=other_text,
                        second=text,
                    ),
                    remedy=_("Write the button in the same way in both, with all the keys that it sends."),
                )
        commands[gesture], texts[gesture] = command, text
    return Bindings(commands)


def parse_press(text: str) -> tuple[Button, Touch]:
    """Return the button and the touch that `text` describes; without a touch it is a tap.

    Raises CompanionError, naming the key and a remedy, for what is not a key and for what may not be bound.
    """
    words = text.split()
    touch = Touch(words.pop().lower()) if len(words) > 1 and words[-1].lower() in list(Touch) else Touch.TAP
    if len(words) != 1:
        raise CompanionError(
            _("'{text}' does not describe a key.", text=text),
            remedy=_("Write it as in 'ctrl+alt+p', 'f9', 'page_down hold' or 'f5 double'."),
        )
    *modifiers, last = (part.strip() for part in words[0].lower().split("+"))
    button = Button(
        frozenset(_key(key, text) for key in last.split("/")),
        frozenset(_modifier(m, text) for m in modifiers),
    )
    _check(button, touch, text)
    return button, touch


def written(button: Button, touch: Touch) -> str:
    """Return the text that `parse_press` reads back as `button` and `touch`."""
    return str(button) if touch is Touch.TAP else f"{button} {touch}"


def _key(name: str, text: str) -> str:
    key = ALIASES.get(name, name)
    if key in MODIFIERS:
        raise CompanionError(
            _("'{text}' is only a modifier: it does nothing alone.", text=text),
            remedy=_("Add a key to it, as in 'ctrl+alt+p'."),
        )
    known = len(key) == 1 or key in PAGING | WRITING | OTHER_KEYS | DESKTOP_KEYS
    if not known and not (key.startswith("code_") and key[5:].isdigit()):
        raise CompanionError(
            _("'{name}' in '{text}' is not the name of a key.", name=name, text=text),
            remedy=_("Press it in `companion keys`, which shows what each key is called."),
        )
    return key


def _modifier(name: str, text: str) -> str:
    modifier = ALIASES.get(name, name)
    if modifier not in MODIFIERS:
        raise CompanionError(
            _("'{name}' in '{text}' is not a modifier.", name=name, text=text),
            remedy=_(
                "Modifiers are {modifiers}; only one other key can be pressed with them.",
                modifiers=", ".join(MODIFIERS),
            ),
        )
    return modifier


def _check(button: Button, touch: Touch, text: str) -> None:
    """Raise CompanionError where the gesture belongs to the desktop, to typing, or to the slides."""
    held = "+".join(name for name in MODIFIERS if name in button.modifiers)
    name = "/".join(sorted(button.keys))
    taken = any(key in DESKTOP_KEYS or (held, key) in DESKTOP_CHORDS for key in button.keys)
    if taken or "cmd" in button.modifiers:
        raise CompanionError(
            _("The desktop itself takes '{text}'.", text=text),
            remedy=_("Use another, such as 'ctrl+alt+p' or 'f9'."),
        )
    if any(types(key) for key in button.keys):
        _check_character(button, held, text)
    if held:
        return
    if touch is Touch.TAP and button.keys & PAGING:
        raise CompanionError(
            _("'{text}' is a tap that is left to the slides.", text=text),
            remedy=_("Use '{name} double' or '{name} hold'.", name=name),
        )
    if touch is not Touch.HOLD and button.keys & WRITING:
        raise CompanionError(
            _("'{text}' is pressed while writing.", text=text), remedy=_("Use '{name} hold'.", name=name)
        )


def _check_character(button: Button, held: str, text: str) -> None:
    """Raise CompanionError where a character's key would be typed, or would act on the program in front."""
    name = "/".join(sorted(button.keys))
    instead = _("Use '{key}' or a function key.", key=f"ctrl+alt+{name}")
    if (
        "alt_gr" in button.modifiers
        or held == "shift"
        or (not held and not button.keys <= CLICKER_CHARACTERS)
    ):
        raise CompanionError(
            _("'{text}' is a plain character: typing it would make a mark.", text=text), remedy=instead
        )
    if held == "ctrl":
        raise CompanionError(_("The program in front acts on '{text}' too.", text=text), remedy=instead)
    if "shift" in button.modifiers and not name.isalpha():
        raise CompanionError(
            _("The key of '{text}' has another name on other keyboards.", text=text), remedy=instead
        )
