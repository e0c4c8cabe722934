"""The folders of the sample sessions agree with themselves and with what their READMEs claim."""

import re
from typing import Any

import numpy as np

from companion.lesson.plan import Advance, Plan
from companion.lesson.recognition import level_for
from sample_sessions.script import read_script
from sample_sessions.truth import KINDS
from tests.sample_sessions.conftest import NAMES, Lesson

MOST_BYTES = 4_000_000
NEAR_S = 5.0
LATE_S = 20.0


def test_there_are_a_calm_a_noisy_and_a_bad_lesson() -> None:
    """At least three lessons are there, each in a folder that says what it is."""
    assert {"calm-garden", "noisy-kitchen", "hard-afternoon"} <= set(NAMES)


def test_every_file_is_there_and_small_enough(lesson: Lesson) -> None:
    """A folder holds plan, sound, truth, review, script and README, and the sound is at most 4 MB."""
    files = ("plan.toml", "sound.ogg", "truth.toml", "review.toml", "script.toml", "README.md")
    assert all((lesson.folder / name).is_file() for name in files)
    assert (lesson.folder / "sound.ogg").stat().st_size <= MOST_BYTES


def test_the_sound_is_as_long_as_script_and_readme_say(lesson: Lesson) -> None:
    """One channel, of the script's length, long enough for everything in the truth, and not clipped."""
    assert lesson.sound.ndim == 1
    seconds = len(lesson.sound) / 16_000
    assert abs(seconds - read_script(lesson.folder).length_s) < 0.1
    assert abs(seconds - _claimed(lesson, r"Length: ([\d.]+) s")) < 0.1
    assert max(entry["end_s"] for entry in lesson.spoken + lesson.talk) < seconds
    assert np.abs(lesson.sound.astype(int)).max() < 32_000


def test_every_command_is_in_the_plan_with_its_kind(lesson: Lesson) -> None:
    """What the truth says was spoken is a phrase of the plan, and of the kind that the plan gives it."""
    settings = lesson.sample.settings
    commands = settings.commands_in(_plan(lesson))
    for spoken in lesson.spoken:
        assert KINDS[commands[spoken["phrase"]].action] == spoken["kind"]


def test_every_command_stands_in_the_phase_where_it_begins(lesson: Lesson) -> None:
    """Walking through the phase commands and the clock gives the phases that the truth states."""
    opened = _opened_at(lesson)
    for spoken in lesson.spoken:
        begun = [name for name, at_s in opened if at_s < spoken["begin_s"]]
        assert spoken["phase"] == begun[-1]
    assert [name for name, _ in opened] == [phase.name for phase in _plan(lesson)]


def test_truth_and_script_tell_the_same(lesson: Lesson) -> None:
    """The truth holds the script's lines, all of them, with sensible times, and commands stand free."""
    lines = read_script(lesson.folder).lines
    assert sorted(entry["phrase"] for entry in lesson.spoken) == sorted(
        line.say for line in lines if line.command
    )
    assert sorted(entry["text"] for entry in lesson.talk) == sorted(
        line.say for line in lines if not line.command
    )
    everything = sorted(lesson.spoken + lesson.talk, key=lambda entry: entry["begin_s"])
    assert all(0.3 < entry["end_s"] - entry["begin_s"] < 9.0 for entry in everything)
    assert all(entry["why"] for entry in lesson.talk)
    for spoken in lesson.spoken:
        others = [entry for entry in everything if entry is not spoken]
        assert not any(_overlap(spoken, other) for other in others)


def test_the_readme_counts_as_the_truth_does(lesson: Lesson) -> None:
    """Commands, margin and level in the README follow from the truth."""
    assert _claimed(lesson, r"Commands: (\d+)") == len(lesson.spoken)
    margin = _margin(lesson)
    assert f"Margin {margin}," in lesson.readme
    level = level_for(lesson.sample.settings.levels_table(), margin)
    assert (f"*{level.name}*" if level else "no recognition") in lesson.readme


def test_the_sound_has_the_level_that_the_readme_claims(lesson: Lesson) -> None:
    """Commands over the room right before and after them, in the finished sound, are within 3 dB of the
    figure that was measured on the separate parts.
    """
    claimed = _claimed(lesson, r"at the commands: (-?[\d.]+) dB")
    assert abs(_level_of_commands_db(lesson) - claimed) < 3.0
    assert abs(claimed - read_script(lesson.folder).teacher_to_room_db) < 0.3


def test_every_correction_finds_its_mark(lesson: Lesson) -> None:
    """Each correction lies near one command or imitation, and names phases and routines of the plan."""
    plan = _plan(lesson)
    routines = {routine for phase in plan for routine in phase.routines}
    everything = lesson.spoken + lesson.talk
    for step in lesson.sample.script.corrections:
        if step.near_s is not None:
            near = step.near_s
            nearest = min(everything, key=lambda entry: abs(entry["begin_s"] - near))
            assert abs(nearest["begin_s"] - near) < 1.0
            candidates = [one for one in lesson.spoken if abs(one["begin_s"] - near) < NEAR_S]
            assert len(candidates) == (0 if nearest in lesson.talk else 1)
        assert step.phase is None or plan.phase(step.phase)
        assert step.routine is None or step.routine in routines


def test_the_bad_lesson_earns_no_recognition(hard_afternoon: Lesson) -> None:
    """Its margin is negative and below the lowest level."""
    assert _margin(hard_afternoon) < 0
    assert level_for(hard_afternoon.sample.settings.levels_table(), _margin(hard_afternoon)) is None


def test_the_bad_lesson_has_a_mark_across_a_phase_boundary(hard_afternoon: Lesson) -> None:
    """One mark begins in the arrival, which the clock ends before the phrase is over."""
    ends_s = 60 * _plan(hard_afternoon).phases[0].minutes
    [across] = [one for one in hard_afternoon.spoken if one["begin_s"] < ends_s < one["end_s"]]
    assert (across["kind"], across["phase"]) == ("praise", "arrival")


def test_the_bad_lesson_has_a_late_mark_that_the_review_moves(hard_afternoon: Lesson) -> None:
    """A mark within 20 s after a phase change is moved to the phase before."""
    [step] = [one for one in hard_afternoon.sample.script.corrections if one.do == "change"]
    opened = dict(_opened_at(hard_afternoon))
    late_s = (step.near_s or 0.0) - opened["work time"]
    assert 0 < late_s < LATE_S
    assert step.phase == "instruction"


def test_the_bad_lesson_has_notes_and_speech_that_must_not_count(hard_afternoon: Lesson) -> None:
    """Individual notes are opened by voice, *praise* falls in ordinary talk, and others speak as well."""
    assert [one["kind"] for one in hard_afternoon.spoken].count("note") == 2
    assert any("praise" in one["text"] and one["text"].startswith("When") for one in hard_afternoon.talk)
    assert any(one["text"] == "velvet compass praise" for one in hard_afternoon.talk)
    assert any("colleague" in one["why"] for one in hard_afternoon.talk)


def _plan(lesson: Lesson) -> Plan:
    settings = lesson.sample.settings
    return settings.plan(settings.session.plan if settings.session else None)


def _claimed(lesson: Lesson, pattern: str) -> float:
    found = re.search(pattern, lesson.readme)
    assert found
    return float(found[1])


def _margin(lesson: Lesson) -> int:
    """Return praise minus reminders of the truth, what was taken back left out."""
    standing: list[str] = []
    for spoken in lesson.spoken:
        if spoken["kind"] in ("praise", "reminder"):
            standing.append(spoken["kind"])
        elif spoken["kind"] == "undo":
            standing.pop()
    return standing.count("praise") - standing.count("reminder")


def _opened_at(lesson: Lesson) -> list[tuple[str, float]]:
    """Return each phase with when it began."""
    plan = _plan(lesson)
    opened = [(plan.phases[0].name, 0.0)]
    if Advance.CLOCK in plan.phases[0].advance:
        opened.append((plan.phases[1].name, 60 * plan.phases[0].minutes))
    commands = lesson.sample.settings.commands
    for spoken in lesson.spoken:
        if spoken["kind"] == "phase":
            following = plan.after(opened[-1][0])
            name = commands[spoken["phrase"]].phase or (following.name if following else "")
            opened.append((name, spoken["begin_s"]))
    return opened


def _overlap(one: dict[str, Any], other: dict[str, Any]) -> bool:
    return bool(one["begin_s"] < other["end_s"] and other["begin_s"] < one["end_s"])


def _level_of_commands_db(lesson: Lesson) -> float:
    """Return the median level of the commands over the room within 1.6 s of them where no one speaks."""
    everything = lesson.spoken + lesson.talk
    levels = []
    for spoken in lesson.spoken:
        begin_s, end_s, after_s = spoken["begin_s"], spoken["end_s"], spoken["end_s"] + 0.4
        room = [
            _power(lesson, low_s, high_s)
            for low_s, high_s in ((begin_s - 1.6, begin_s - 0.05), (after_s, after_s + 1.6))
            if not any(
                one["begin_s"] < high_s and one["end_s"] + 0.4 > low_s
                for one in everything
                if one is not spoken
            )
        ]
        if room:
            quiet = float(np.mean(room))
            levels.append(10 * np.log10(max(_power(lesson, begin_s, end_s) / quiet - 1, 0.01)))
    assert len(levels) > len(lesson.spoken) / 2
    return float(np.median(levels))


def _power(lesson: Lesson, begin_s: float, end_s: float) -> float:
    part = lesson.sound[int(begin_s * 16_000) : int(end_s * 16_000)].astype(np.float64)
    return float(np.mean(part**2))
