"""What the README shows works as it stands, line by line."""

import re
import shlex
from pathlib import Path

from tests.commands.conftest import Run
from tests.rig_sound import open_sound_rig

NEEDS_A_ROOM = ("rehearse", "doctor")
README = Path(__file__).parents[2] / "README.md"
BLOCKS = re.findall(r"```sh\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)


def test_its_lines_work_in_their_order(call: Run, run: Run, no_screen: None) -> None:
    """From the first settings to the end of a day; what needs a voice or a real room has tests of its own."""
    assert no_screen is None
    install, tests, *lessons = BLOCKS
    steps = {"start": run}
    assert install.count("&&") == 4
    assert "pytest" in tests
    lines = [shlex.split(line, comments=True) for block in lessons for line in block.splitlines()]
    with open_sound_rig():
        try:
            told = {
                " ".join(words[1:3]): steps.get(words[1], call)(*words[1:]).stdout
                for words in lines
                if words[1] not in NEEDS_A_ROOM
            }
        finally:
            call("stop", code=None)
    assert "4-Hazel is open" in told["open 4-Hazel"]
    assert "5-Oak is settled" in told["settle --rating"]
    assert told["note"].startswith("5-Oak")
