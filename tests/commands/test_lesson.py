"""What the commands of a lesson say and leave with, where there is no microphone."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from companion.log.store import open_log
from tests.commands.conftest import Run
from tests.rig_sound import open_sound_rig
from tests.running import Companion
from tests.school_day import SETTINGS
from tests.waiting import until


@pytest.fixture
def companion(tmp_path: Path, no_screen: None) -> Iterator[Companion]:
    """Give a companion that runs on a machine with a sound system, but neither microphone nor screen."""
    assert no_screen is None
    with open_sound_rig(with_microphone=False):
        # Without a microphone the loudspeaker's own sound is the only source: a tone would be heard there.
        companion = Companion(tmp_path / "home", f"{SETTINGS}\n[tones]\nvolume = 0\n")
        companion.start()
        yield companion
        companion.end()


def test_each_command_says_what_is_and_fails_where_nothing_was_done(call: Run, companion: Companion) -> None:
    """A microphone that is not there is told; a phase that is none, an empty undo, a pause twice as well."""
    opened = call("open", "4-Hazel").stdout
    assert "4-Hazel is open, in 'arrival'. The microphone is not heard. The microphone is not" in opened
    assert "Plug it in" in opened
    assert "microphone is open" not in opened

    assert "Use one of: arrival, work time" in call("phase", "nosuch", code=2).stderr
    assert "in 'arrival' already" in call("phase", "arrival", code=2).stderr
    assert "nothing to take back" in call("undo", code=2).stderr
    assert "never for a child" in call("mark", "praise", "--table", "Bob Smith", code=2).stderr

    call("mark", "praise", "--table", "four")
    assert "Taken back: the praise in arrival" in call("undo").stdout
    begun = call("jot", "health office").stdout
    note = begun.split()[3]
    assert f"companion review note {note} --child" in begun

    assert "not paused" in call("resume", code=2).stderr
    assert "companion resume" in call("pause").stdout
    assert "already" in call("pause", code=2).stderr
    assert "The microphone is not heard" in call("resume").stdout

    assert "companion close" in call("settle", code=2).stderr
    call("close")
    assert "No session is open" in call("close", code=2).stderr
    call("review", "note", note, "--child", "seat 12")
    with open_log(companion.home.log) as log:
        assert log.find().notes[0].child == "seat 12"


def test_a_routine_of_the_plan_that_looks_like_initials_is_marked(call: Run, companion: Companion) -> None:
    """It names no child, since the teacher wrote it into the plan; of other words the companion asks."""
    text = companion.home.settings.read_text(encoding="utf-8")
    companion.home.settings.write_text(
        text.replace("minutes = 30", 'minutes = 30, routines = ["KO bin shut"]'), encoding="utf-8"
    )
    call("open", "4-Hazel")
    assert "KO may stand for a child" in call("mark", "praise", "--routine", "KO is here", code=2).stderr
    assert "1 praise" in call("mark", "praise", "--routine", "KO bin shut").stdout
    companion.home.settings.write_text("no settings", encoding="utf-8")
    assert "KO may stand for a child" in call("mark", "praise", "--routine", "KO bin shut", code=2).stderr
    companion.home.settings.write_text(text, encoding="utf-8")


def test_stopping_what_does_not_run_says_so(call: Run, companion: Companion) -> None:
    """And leaves with a status."""
    assert "has ended" in call("stop").stdout
    assert until(lambda: companion.process.poll() is not None)
    assert "was not running" in call("stop", code=2).stderr
