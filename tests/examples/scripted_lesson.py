"""A lesson from a script: what happened in which minute becomes a session.

Usage: python tests/examples/scripted_lesson.py SESSIONS.DB
"""

import sys
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from companion.lesson.command import Action, Command
from companion.lesson.handoff import as_text, hand_off_note
from companion.lesson.mark import Source
from companion.lesson.opening import Opening
from companion.listening.sound import SAMPLE_RATE
from companion.log.store import open_log
from companion.recording.recorder import Recorder
from companion.recording.replay import RecordingClock
from companion.settings.phrase_packs import starter_text
from companion.settings.settings import parse_settings

BEGAN = datetime(2026, 9, 14, 9, 10, tzinfo=ZoneInfo("America/Chicago"))
HAPPENED = (
    (2, Command(Action.PRAISE, routine="bag on the hook")),
    (6, Command(Action.NEXT_PHASE)),
    (8, Command(Action.PRAISE, scope="table two")),
    (9, Command(Action.REMINDER)),
    (10, Command(Action.UNDO)),
)
"""Minute of the lesson, and what the teacher did."""


def main(path: Path) -> None:
    """Record the lesson and print its note."""
    settings = parse_settings(starter_text("en"), "the starter's settings")
    clock = RecordingClock(BEGAN)
    with open_log(path) as log:
        recorder = Recorder(log, settings, clock)
        recorder.open(Opening("4-Hazel"), Source.PAGE, engine=None)
        for minute, command in HAPPENED:
            clock.samples = minute * 60 * SAMPLE_RATE
            recorder.command(command, clock.steady_s(), Source.PAGE)
        closed = recorder.close(Source.PAGE)
    assert closed is not None
    print(as_text(hand_off_note(closed)))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
