"""A rehearsal led by sound in blocks, as a microphone gives it."""

from collections.abc import Iterator

import numpy as np

from companion.listening.microphone.capture import Block
from companion.listening.rehearsal.guide import Guide, Part, RehearsalStep
from companion.listening.rehearsal.progress import SILENT_S, RehearsalProgress
from companion.listening.sound import SAMPLE_RATE, Sound
from tests.listening.speakers import say

STEPS = (
    RehearsalStep(Part.TAKES, "velvet compass", 2),
    RehearsalStep(Part.TALK, seconds=2),
    RehearsalStep(Part.ROOM, seconds=1),
)


def room(seconds: float) -> Sound:
    """Return a quiet room."""
    return np.random.default_rng(2).normal(0, 4, int(seconds * SAMPLE_RATE)).astype(np.int16)


def blocks(*sounds: Sound) -> Iterator[Block]:
    """Cut sounds into blocks of 20 ms."""
    whole = np.concatenate(sounds)
    for at in range(0, len(whole), 320):
        yield Block(whole[at : at + 320], at / SAMPLE_RATE, after_gap=False)


def remarks(rehearsing: RehearsalProgress, *sounds: Sound) -> list[str]:
    """Return what is said while the sounds are heard."""
    return [said for block in blocks(*sounds) if (said := rehearsing.hear(block))]


def test_takes_are_cut_where_speech_begins_and_ends() -> None:
    """Two phrases with a pause are two takes, each whole; then talk and room fill their seconds."""
    rehearsing = RehearsalProgress(Guide(STEPS))
    said = (say("velvet compass", "flite:rms") * 0.6).astype(np.int16)
    heard = remarks(rehearsing, room(1), said, room(1.5), said, room(1.5))
    assert heard == ["1 of 2: good.", "2 of 2: good."]
    for _, take in rehearsing.guide.takes:
        assert len(said) <= len(take) <= len(said) + 1.3 * SAMPLE_RATE
    talk = (say("the seeds are on the shelf beside the door and the trowels under it") * 0.6).astype(np.int16)
    assert remarks(rehearsing, room(0.5), talk)[-1:] == ["Good."]
    remarks(rehearsing, room(1.1))
    assert rehearsing.guide.step is None


def test_a_line_skips_or_takes_back_and_forgets_the_open_stretch() -> None:
    """What is being said when the key goes down belongs to no take."""
    rehearsing = RehearsalProgress(Guide(STEPS))
    said = (say("velvet compass", "flite:rms") * 0.6).astype(np.int16)
    remarks(rehearsing, room(1), said, room(1.5))
    assert "taken back" in rehearsing.type("r")
    assert rehearsing.guide.done == 0
    remarks(rehearsing, room(1), said[: len(said) // 2])
    rehearsing.type("")
    assert rehearsing.guide.step == STEPS[1]
    assert rehearsing.guide.takes == ()
    assert "Enter skips" in rehearsing.type("help")


def test_a_silence_is_told_again_and_again() -> None:
    """A muted microphone does not leave the teacher waiting."""
    assert len(remarks(RehearsalProgress(Guide(STEPS)), room(2.5 * SILENT_S))) == 2


def test_a_take_in_which_sound_was_lost_is_asked_for_again() -> None:
    """The computer was too slow for a moment."""
    rehearsing = RehearsalProgress(Guide(STEPS))
    said = (say("velvet compass", "flite:rms") * 0.6).astype(np.int16)
    sound = [*blocks(room(1), said, room(1.5))]
    middle = 50 + len(said) // 640
    lost = [*sound[:middle], Block(sound[middle].sound, 0.0, after_gap=True), *sound[middle + 1 :]]
    heard = [remark for block in lost if (remark := rehearsing.hear(block))]
    assert len(heard) == 1
    assert "cut off" in heard[0]


def test_what_is_too_loud_to_be_taken_for_speech_is_told() -> None:
    """A voice cut off to a rattle opens no gate; "speak up" would be the wrong word for it."""
    rehearsing = RehearsalProgress(Guide(STEPS))
    rattle = np.where(np.arange(SAMPLE_RATE) % 400 < 200, 32767, -32768).astype(np.int16)
    heard = remarks(rehearsing, room(1), rattle, room(SILENT_S))
    assert len(heard) == 1
    assert "too loud for the microphone" in heard[0]
    assert "Nothing was heard" in remarks(rehearsing, room(SILENT_S + 0.1))[0]
