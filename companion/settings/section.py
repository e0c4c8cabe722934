"""What the tables of the settings file have in common."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, StringConstraints

Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80)]
Spoken = Annotated[str, StringConstraints(strip_whitespace=True, to_lower=True, min_length=1, max_length=80)]


class Section(BaseModel):
    """A table of the settings file: unknown keys are errors, values never change."""

    model_config = ConfigDict(extra="forbid", frozen=True)
