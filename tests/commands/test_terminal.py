"""What texts may send to a terminal: nothing."""

import io

import pytest

from companion.commands.terminal import Terminal, shown


class Screen(io.BytesIO):
    """Bytes that go to a terminal, or elsewhere."""

    def __init__(self, *, terminal: bool) -> None:
        """Say which."""
        super().__init__()
        self._terminal = terminal

    def isatty(self) -> bool:
        """Whether it is a terminal."""
        return self._terminal


@pytest.mark.parametrize(
    ("text", "seen"),
    [("4-Hazel\x1b[31m", "4-Hazel␛[31m"), ("\x1b[1A\x1b[2Ka", "␛[1A␛[2Ka"), ("a\rb\x1b[?25l", "a␍b␛[?25l")],
)
def test_a_text_that_looks_like_the_programs_own_style_is_shown_in_files_and_pipes(
    monkeypatch: pytest.MonkeyPatch, text: str, seen: str
) -> None:
    """The program sends styles to a terminal only; whoever looks at the file later is not misled."""
    monkeypatch.delenv("FORCE_COLOR", raising=False)
    for terminal, expected in ((False, seen), (True, shown(text))):
        screen = Screen(terminal=terminal)
        with Terminal(screen, "utf-8", "replace") as stream:
            stream.write(text)
            stream.flush()
            assert screen.getvalue().decode() == expected


def test_lines_and_tabs_stay_as_they_are() -> None:
    """They are no more than white space."""
    assert shown("a\n\tb\x07\x9b\u202e", styled=False) == "a\n\tb␇\\u009b\\u202e"
