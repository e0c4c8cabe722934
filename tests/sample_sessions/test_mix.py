"""A script becomes sound at the level that it asks for."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from sample_sessions.make import write_sound
from sample_sessions.mix import Stems, command_to_room_db, mixed, perform
from sample_sessions.script import Line, Script, Stretch
from sample_sessions.truth import Said
from sample_sessions.voices import RATE


def _stems() -> tuple[Stems, list[Said]]:
    chance = np.random.default_rng(3)
    teacher = np.zeros(4 * RATE)
    teacher[RATE : 2 * RATE] = chance.standard_normal(RATE)
    teacher[3 * RATE :] = chance.standard_normal(RATE)
    others = np.zeros(4 * RATE)
    room = 0.3 * chance.standard_normal(4 * RATE)
    said = [Said(Line("praise", command=True), 1.0, 2.0), Said(Line("praise", command=True), 3.0, 4.0)]
    return Stems(teacher, others, room), said


@pytest.mark.parametrize("level_db", [0.0, 9.0, 20.0])
def test_the_room_is_scaled_to_the_level_asked_for(level_db: float) -> None:
    """The median of the commands' levels over the rest is what the script says."""
    stems, said = _stems()
    sound, teacher, rest = mixed(stems, said, level_db)
    assert np.allclose(sound, teacher + rest)
    assert np.median(command_to_room_db(teacher, rest, said)) == pytest.approx(level_db, abs=0.05)


def test_levels_are_taken_at_the_commands_alone() -> None:
    """Ordinary talk and the gaps between lines do not count; ten times the power is 10 dB."""
    stems, said = _stems()
    talk = Said(Line("hello"), 2.0, 3.0)
    rest = np.full(4 * RATE, np.sqrt(0.1))
    levels = command_to_room_db(stems.teacher, rest, [said[0], talk, said[1]])
    assert levels == pytest.approx([10.0, 10.0], abs=0.2)


def _script(*lines: Line) -> Script:
    return Script(5, 6.0, 20.0, (Stretch(0.0, talk=1.0),), lines)


def test_a_child_begins_when_the_script_says() -> None:
    """A line with a time is heard from there on, with a synthesiser's real voice, and silence lies before."""
    stems, [said] = perform(_script(Line("look at the worm", who="child a", at_s=2.0, far_m=1.0)), "velvet")
    assert said.begin_s == pytest.approx(2.05)
    assert 0.5 < said.end_s - said.begin_s < 3.0
    assert not stems.others[: 2 * RATE].any()
    assert stems.others[2 * RATE :].any()
    assert not stems.teacher.any()


def test_two_lines_of_one_voice_may_not_overlap() -> None:
    """Such a script is refused, with the words and the time."""
    twice = (Line("wait for me", who="child b", at_s=1.0), Line("my shoe is wet", who="child b", at_s=1.2))
    with pytest.raises(ValueError, match="my shoe is wet"):
        perform(_script(*twice), "velvet")


def test_a_script_longer_than_its_sound_is_refused() -> None:
    """The last line has to end before the sound does."""
    with pytest.raises(ValueError, match="after the sound's"):
        perform(_script(Line("wait for me", who="child b", at_s=5.8)), "velvet")


def test_a_sound_over_full_scale_is_refused(tmp_path: Path) -> None:
    """Nothing is clipped in silence."""
    with pytest.raises(ValueError, match="full scale"):
        write_sound(tmp_path / "sound.ogg", np.full(RATE, 1.2))


def test_the_same_sound_is_written_as_the_same_samples(tmp_path: Path) -> None:
    """Two files of one sound decode alike, whatever serial number the container draws."""
    sound = 0.1 * np.random.default_rng(4).standard_normal(3 * RATE)
    decoded = []
    for name in ("one.ogg", "two.ogg"):
        write_sound(tmp_path / name, sound)
        decoded.append(sf.read(tmp_path / name, dtype="int16")[0])
    assert len(decoded[0]) == len(sound)
    assert np.array_equal(*decoded)
