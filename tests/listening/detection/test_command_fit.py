"""The choice of the command after the cue, on costs that were made by hand."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from companion.listening.detection.command_fit import CommandFit, levels
from companion.listening.phonemes.acoustic_model import BLANK, FRAME_SAMPLES, PHONEMES, Frames

PRAISE = ("P", "R", "EY", "Z")
ROOM_DB, VOICE_DB = 20.0, 60.0


def said(chain: tuple[str, ...], frames: int = 60, first: int = 10) -> Frames:
    """Return costs in which each phoneme of a chain is heard for two frames, and nothing else."""
    costs = np.full((frames, len(PHONEMES) + 1), -8.0, np.float32)
    costs[:, BLANK] = 0
    for at, phoneme in enumerate(chain):
        here = slice(first + 4 * at, first + 4 * at + 2)
        costs[here, BLANK], costs[here, PHONEMES.index(phoneme)] = -8, 0
    return costs


def loud(until: int, frames: int = 60) -> np.ndarray:
    """Return levels of a voice that falls silent at a frame."""
    return np.where(np.arange(frames) < until, VOICE_DB, ROOM_DB)


FIT = CommandFit({"praise": (PRAISE,), "cleanup": (("K", "L", "IY", "N", "AH", "P"),)})


def test_a_command_that_ends_is_meant() -> None:
    """Heard as it is said, with silence behind it, it is as good as sure."""
    choice = FIT.choose(said(PRAISE), loud(26), ROOM_DB)
    assert choice.command == "praise"
    assert choice.log_odds > 0


def test_a_voice_that_goes_on_as_loud_as_before_speaks_against_the_command() -> None:
    """However well it fits: nobody falls silent behind it."""
    assert FIT.choose(said(PRAISE), loud(60), ROOM_DB).log_odds < 0


def test_a_room_as_loud_as_the_voice_is_no_voice() -> None:
    """Where it was no quieter before the command, what is heard behind it says nothing."""
    assert FIT.choose(said(PRAISE), loud(60), VOICE_DB).log_odds > 0


def test_silence_behind_a_command_is_told_from_a_voice_and_from_a_loud_room() -> None:
    """Nothing was nearly as loud as the command of late, or louder than the room ever is."""
    assert FIT.choose(said(PRAISE), loud(26), ROOM_DB).silent
    assert FIT.choose(said(PRAISE), loud(60), VOICE_DB).silent
    assert not FIT.choose(said(PRAISE), loud(60), ROOM_DB).silent
    resumed = loud(26)
    resumed[56] = VOICE_DB
    assert not FIT.choose(said(PRAISE), resumed, ROOM_DB).silent


def test_before_anything_was_heard_behind_a_command_it_is_not_silent() -> None:
    """A command that ends where the sound ends may go on."""
    assert not FIT.choose(said(PRAISE, 25), loud(25, 25), ROOM_DB).silent


def test_two_phonemes_that_were_not_heard_speak_against_the_command() -> None:
    """A word that shares its other sounds is another word."""
    other = FIT.choose(said(("P", "R", "OW", "B")), loud(26), ROOM_DB)
    assert other.log_odds < FIT.choose(said(PRAISE), loud(26), ROOM_DB).log_odds
    assert other.log_odds < 0


@given(st.integers(0, 32_000))
def test_levels_of_a_steady_sound_are_those_of_its_room(height: int) -> None:
    """Each frame is as loud as the quietest stretch."""
    by_frame, room_db = levels(np.full(20 * FRAME_SAMPLES, height, np.int16))
    assert np.allclose(by_frame, room_db)
    assert np.isclose(room_db, 10 * np.log10(float(height) ** 2 + 1))
