"""What the tables of the settings file have in common."""

import pytest
from pydantic import ValidationError

from companion.settings.section import Name, Sayable, Section


class Phrase(Section):
    """A table with a name and something to say."""

    name: Name = "praise"
    say: Sayable = "lovely teamwork"


def test_names_are_trimmed_and_what_is_said_is_in_small_letters() -> None:
    """However they were typed."""
    phrase = Phrase(name="  Praise ", say=" Lovely TEAMWORK ")
    assert (phrase.name, phrase.say) == ("Praise", "lovely teamwork")


@pytest.mark.parametrize(
    "values", [{"say": "!?"}, {"say": " "}, {"name": ""}, {"name": "x" * 81}, {"sing": "la"}]
)
def test_what_can_not_be_is_an_error(values: dict[str, str]) -> None:
    """Nothing to say, no name, too long a name, an unknown key."""
    with pytest.raises(ValidationError):
        Phrase(**values)


def test_a_table_never_changes() -> None:
    """What a lesson was begun with stays so."""
    with pytest.raises(ValidationError):
        Phrase().name = "other"  # type: ignore[misc]
