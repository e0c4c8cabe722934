"""How loud the companion answers."""

import pytest
from pydantic import ValidationError

from companion.settings.tones import TonesSection


def test_tones_are_soft_unless_the_settings_say_otherwise() -> None:
    """None and full are the ends."""
    assert 0 < TonesSection().volume < 0.5
    assert [TonesSection(volume=volume).volume for volume in (0, 1)] == [0, 1]


@pytest.mark.parametrize("volume", [-0.1, 1.1])
def test_no_tone_is_louder_than_full(volume: float) -> None:
    """Or softer than none."""
    with pytest.raises(ValidationError):
        TonesSection(volume=volume)
