"""`[tones]`: how loud the companion answers."""

from pydantic import Field

from companion.settings.section import Section


class TonesSection(Section):
    """`[tones]` of the settings file."""

    volume: float = Field(0.3, ge=0, le=1)
    """0 turns the tones off."""
