"""A lesson in Korean, from sound through the real Korean model to marks in the log, note and history.

The voice is synthetic, and the phrases are such that the model understands from it: those of the Korean
starter settings that matter most (칭찬, 약속) are not among them. It proves the way, not how well people are
heard.
"""

import json
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import soundfile

from companion.listening.sound import SAMPLE_RATE, Sound
from tests.commands.conftest import Run
from tests.listening.korean import CUE, TALK, silence, spoken

PLAN = f"""
[school]
name = "Alder Lane School"
room = "텃밭과 부엌 교실"

[listening]
engine = "auto"
language = "ko"
cue = "{CUE}"

[[plans]]
name = "부엌 수업"
phases = [
  {{ name = "도착", minutes = 1 }},
  {{ name = "이야기", minutes = 1 }},
  {{ name = "요리", minutes = 1 }},
  {{ name = "정리", minutes = 1 }},
]

[[phrases]]
say = "좋아요"
does = "praise"

[[phrases]]
say = "약속 시간"
does = "reminder"

[[phrases]]
say = "취소"
does = "undo"

[[phrases]]
say = "이야기 시간"
does = "phase"
phase = "이야기"

[[phrases]]
say = "요리 시간"
does = "phase"
phase = "요리"

[[phrases]]
say = "보건실"
does = "note"
note = "health office"

[[levels]]
name = "수확 식탁"
least_margin = 1

[[levels]]
name = "일군 흙"
least_margin = 0
"""
SAID = ("좋아요", "이야기 시간", "약속 시간", "요리 시간", "좋아요", "약속 시간", "취소", "보건실")
MARKS = ((0, "praise", "도착"), (2, "reminder", "이야기"), (4, "praise", "요리"), (5, "reminder", "요리"))
"""Which of what was said becomes a mark, of which kind, in which phase."""


def _lesson() -> tuple[Sound, list[float]]:
    """Return the lesson's sound, with talk of another voice between, and when each phrase begins, in s."""
    sound = silence(1.0)
    begins_s = []
    for phrase, talk in zip(SAID, TALK, strict=False):
        sound = np.concatenate((sound, spoken(talk, "ko"), silence(1.5)))
        begins_s.append(len(sound) / SAMPLE_RATE)
        sound = np.concatenate((sound, spoken(f"{CUE} {phrase}", "ko+f4"), silence(1.5)))
    return sound, begins_s


def test_korean_lesson_becomes_marks_note_and_history(run: Run, tmp_path: Path) -> None:
    """What was said in Korean stands in the log at its time and in its phase; the note is Korean too."""
    sound, begins_s = _lesson()
    soundfile.write(tmp_path / "lesson.wav", sound, SAMPLE_RATE)
    (tmp_path / "plan.toml").write_text(PLAN, "utf-8")
    heard = ("replay", tmp_path / "lesson.wav", "--plan", tmp_path / "plan.toml", "--class-group", "4-개나리")
    session = json.loads(run(*heard, "--json").stdout)
    marks = session["marks"]
    assert [(mark["kind"], mark["phase"]) for mark in marks] == [(kind, phase) for _, kind, phase in MARKS]
    assert [mark["state"] == "undone" for mark in marks] == [False, False, False, True]
    for mark, (place, _, _) in zip(marks, MARKS, strict=True):
        assert mark["at_s"] == pytest.approx(begins_s[place], abs=0.4)
        assert (mark["phrase"], mark["engine"]) == (SAID[place], "vosk")
    assert all(one["began_s"] < other["began_s"] for one, other in pairwise(session["phases"]))
    assert (session["praise"], session["reminder"], session["recognition"]) == (2, 1, "수확 식탁")
    assert "4-개나리" in run("sessions").stdout
    note = run("note").stdout
    assert "4-개나리" in note
    assert "수확 식탁" in note
