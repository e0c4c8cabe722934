"""The text of a settings file taken apart."""

import tomllib

import pytest

from companion.settings.tables import tables_in


def test_the_same_text_is_taken_apart_once_and_another_anew() -> None:
    """A text that is no TOML raises each time."""
    first = tables_in('[school]\nname = "Alder Lane School"\n')
    assert first == {"school": {"name": "Alder Lane School"}}
    assert tables_in('[school]\nname = "Alder Lane School"\n') is first
    assert tables_in("[school]\n") == {"school": {}}
    for _again in range(2):
        with pytest.raises(tomllib.TOMLDecodeError):
            tables_in("[school")
