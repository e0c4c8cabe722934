"""The computed room does what the room of the samples claims."""

import numpy as np
import pytest

from sample_sessions.room import (
    CRITICAL_DISTANCE_M,
    REVERBERATION_S,
    Chance,
    clatter,
    heard_from,
    impulse_response,
    ventilation,
    water,
)
from sample_sessions.voices import RATE


def _chance() -> Chance:
    return np.random.default_rng(7)


@pytest.mark.parametrize("source", [clatter, ventilation, water])
def test_noises_are_the_same_again_and_at_the_unit_level(source: object) -> None:
    """The same state of chance gives the same noise, another state another one, each at an RMS of 1."""
    assert callable(source)
    first, again = source(RATE, _chance()), source(RATE, _chance())
    other = source(RATE, np.random.default_rng(8))
    assert np.array_equal(first, again)
    assert not np.allclose(first, other)
    assert np.sqrt(np.mean(first**2)) == pytest.approx(1.0)


def test_direct_and_diffuse_sound_are_equal_at_the_critical_distance() -> None:
    """There the first sample holds half of the energy of the impulse response."""
    answer = impulse_response(CRITICAL_DISTANCE_M, _chance())
    assert answer[0] ** 2 == pytest.approx(np.sum(answer[1:] ** 2))


def test_a_nearer_mouth_is_louder_but_its_tail_is_not() -> None:
    """Distance changes the direct sound alone."""
    near, far = impulse_response(0.5, _chance()), impulse_response(4.0, _chance())
    assert near[0] == pytest.approx(8 * far[0])
    assert np.array_equal(near[1:], far[1:])


def test_the_tail_has_fallen_by_sixty_decibels_after_the_reverberation_time() -> None:
    """The energy of the last tenth of the tail lies near the 60 dB that the reverberation time promises."""
    answer = impulse_response(1.0, _chance())
    tenth = len(answer) // 10
    assert len(answer) == int(REVERBERATION_S * RATE)
    fall = 10 * np.log10(np.mean(answer[tenth : 2 * tenth] ** 2) / np.mean(answer[-tenth:] ** 2))
    assert 44 < fall < 54


def test_a_click_is_heard_as_the_rooms_answer() -> None:
    """A single sample comes out as the impulse response itself."""
    click = np.array([1.0])
    assert np.allclose(heard_from(click, 1.0, _chance()), impulse_response(1.0, _chance()))
