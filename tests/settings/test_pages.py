"""How the pages show what happens."""

from pathlib import Path

import pytest

from companion.paths import Home
from companion.settings.pages import lights_of


@pytest.mark.parametrize(
    ("text", "lights"),
    [("[pages]\nlight_marks = true\n", True), ("[pages]\n", False), ("", False), ("[pages", False)],
)
def test_the_edge_lights_where_the_settings_say_so(tmp_path: Path, text: str, lights: bool) -> None:
    """By the file as it is just now; one that can't be read lights nothing."""
    home = Home(tmp_path).create()
    home.settings.write_text(text, encoding="utf-8")
    assert lights_of(home) is lights


def test_without_a_file_nothing_lights(tmp_path: Path) -> None:
    """As before `companion init`."""
    assert not lights_of(Home(tmp_path / "nowhere"))
