"""What is wrong in a settings file, in words."""

from typing import Annotated

import pytest
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from companion.settings.problem import problems


class Bed(BaseModel):
    """A table with values of several kinds."""

    model_config = ConfigDict(extra="forbid")
    name: str
    rows: Annotated[int, Field(ge=1, le=9)] = 1
    watered: bool = False


class Garden(BaseModel):
    """A file with a list of tables."""

    beds: tuple[Bed, ...]


def told(values: object) -> str:
    """Return what is said of `values`."""
    with pytest.raises(ValidationError) as raised:
        Garden.model_validate(values)
    return problems("garden.toml", raised.value.errors())


@pytest.mark.parametrize(
    ("bed", "said"),
    [
        ({}, "garden.toml: beds[1].name: this key is missing; add it"),
        ({"name": "a", "rows": 0}, "garden.toml: beds[1].rows = 0: write at least 1"),
        ({"name": "a", "rows": "ten"}, "garden.toml: beds[1].rows = 'ten': write a whole number"),
        ({"name": "a", "watered": "wet"}, "garden.toml: beds[1].watered = 'wet': write true or false"),
        ({"name": 5}, "garden.toml: beds[1].name = 5: write it in quotes"),
        (
            {"name": "a", "colour": "green"},
            "garden.toml: beds[1].colour = 'green': this key is not known; "
            "correct its spelling or take it out",
        ),
    ],
)
def test_each_mistake_is_told_with_its_place_its_value_and_what_to_write(bed: object, said: str) -> None:
    """Places are counted from one, as people do."""
    assert told({"beds": [bed]}) == said


def test_all_mistakes_are_told_at_once_and_long_values_cut() -> None:
    """So that a teacher need not start again for each."""
    said = told({"beds": [{"name": "a", "rows": 0}, {"name": "b", "watered": "x" * 200}]})
    first, second = said.split("; ")
    assert first.startswith("garden.toml: beds[1].rows")
    assert second.startswith("garden.toml: beds[2].watered")
    assert "…: write true or false" in second
    assert len(second) < 120
