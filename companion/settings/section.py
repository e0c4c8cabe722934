"""What the tables of the settings file have in common."""

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, StringConstraints

from companion.language import _

Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80)]


def _can_be_said(text: str) -> str:
    """Return the text if it holds anything that a voice could say."""
    if not any(letter.isalnum() for letter in text):
        msg = _("'{text}' can't be said; write it in words", text=text)
        raise ValueError(msg)
    return text


Sayable = Annotated[
    str,
    StringConstraints(strip_whitespace=True, to_lower=True, min_length=1, max_length=80),
    AfterValidator(_can_be_said),
]


class Section(BaseModel):
    """A table of the settings file: unknown keys are errors, values never change."""

    model_config = ConfigDict(extra="forbid", frozen=True)
