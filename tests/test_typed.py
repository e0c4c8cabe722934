"""Command lines in the program's sentences, as they have to be typed."""

import re
from pathlib import Path

import pytest

from companion.cli import COMMANDS
from companion.language import _
from companion.paths import Home
from companion.typed import PROGRAM, as_typed, type_with
from tests.catalogues import found

MUSIC = 'companion --profile "music"'


def test_a_command_is_typed_with_what_leads_to_its_home() -> None:
    """Wherever it stands in a sentence; what only looks like one stays."""
    sentence = (
        "Start it with: companion start, or see `companion log verify`. If the companion start fails, …"
    )
    assert as_typed(sentence) == sentence
    type_with(MUSIC, COMMANDS)
    assert as_typed(sentence) == (
        f"Start it with: {MUSIC} start, or see `{MUSIC} log verify`. If the companion start fails, …"
    )
    assert as_typed("companion bench-live, companion nosuch") == f"{MUSIC} bench-live, companion nosuch"
    assert _("Start it with: companion start") == f"Start it with: {MUSIC} start"


def test_a_folder_that_would_be_read_as_something_else_is_left_out() -> None:
    """In a page or beside values: the plain command is said then."""
    for odd in ("{x}", "<b>"):
        type_with(f'companion --home "/tmp/{odd}"', COMMANDS)
        assert _("Start it with: companion start") == "Start it with: companion start"


def test_no_sentence_speaks_of_the_companion_as_if_it_were_a_command() -> None:
    """Nor as a name without an article, which would be changed as well."""
    command = re.compile(rf"\b\w+ {PROGRAM} (?:{'|'.join(COMMANDS)})(?![\w-])")
    messages = [
        form for one in found() for form in ([one.message] if isinstance(one.message, str) else one.message)
    ]
    said = {match[0].split()[0].casefold() for message in messages for match in command.finditer(message)}
    assert said & {"a", "no", "your", "running", "this"} == set()


def test_a_home_is_called_by_what_the_environment_does_not_say(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its folder, its profile, or neither."""
    home = Home(tmp_path)
    monkeypatch.delenv("COMPANION_HOME", raising=False)
    assert home.program == f'companion --home "{tmp_path}"'
    monkeypatch.setenv("COMPANION_HOME", str(tmp_path))
    assert (home.program, home.of_profile("music").program) == ("companion", MUSIC)
    monkeypatch.setenv("COMPANION_PROFILE", "music")
    assert home.of_profile("music").program == "companion"
