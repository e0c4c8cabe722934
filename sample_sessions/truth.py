"""What really happened in a sample: each command in its phase, and all speech that must not count."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from companion.lesson.command import Action, Command
from companion.lesson.plan import Advance, Plan
from sample_sessions.script import Line

KINDS = {
    Action.PRAISE: "praise",
    Action.REMINDER: "reminder",
    Action.NEXT_PHASE: "phase",
    Action.PHASE: "phase",
    Action.UNDO: "undo",
    Action.NOTE: "note",
    Action.PAUSE: "pause",
}
"""The truth's word for what a command does."""


@dataclass(frozen=True, slots=True)
class Said:
    """A line with the time at which it is heard."""

    line: Line
    begin_s: float
    end_s: float


def phase_at_each(said: Sequence[Said], plan: Plan, commands: Mapping[str, Command]) -> list[str]:
    """Return the phase in which each of `said` (in order of time) begins.

    A phase begins with the phrase that opens it, or, where the plan lets the clock do it, when the
    minutes of the phase before are over.
    """
    names = [phase.name for phase in plan]
    now, since_s = 0, 0.0
    phases = []
    for one in said:
        phase = plan.phases[now]
        if Advance.CLOCK in phase.advance and one.begin_s >= since_s + 60 * phase.minutes:
            now, since_s = now + 1, since_s + 60 * phase.minutes
        phases.append(names[now])
        command = commands[one.line.say] if one.line.command else None
        if command and KINDS[command.action] == "phase":
            now = now + 1 if command.phase is None else names.index(command.phase)
            since_s = one.begin_s
    return phases


def truth_toml(said: Sequence[Said], plan: Plan, commands: Mapping[str, Command]) -> str:
    """Return the text of `truth.toml` for `said` in order of time."""
    spoken, talk = [], []
    for one, phase in zip(said, phase_at_each(said, plan, commands), strict=True):
        times = f"begin_s = {one.begin_s:.2f}\nend_s = {one.end_s:.2f}\n"
        if one.line.command:
            kind = KINDS[commands[one.line.say].action]
            what = f'phrase = "{one.line.say}"\nkind = "{kind}"\nphase = "{phase}"\n'
            spoken.append(f"[[spoken]]\n{times}{what}")
        else:
            what = f"text = {_quoted(one.line.say)}\nwhy = {_quoted(_why(one.line))}\n"
            talk.append(f"[[talk]]\n{times}{what}")
    return "\n".join(spoken + talk)


def _why(line: Line) -> str:
    if line.why:
        return line.why
    return "the teacher talks to the class" if line.who == "teacher" else f"another voice: {line.who}"


def _quoted(text: str) -> str:
    """Return `text` as a TOML string; JSON's is one."""
    return json.dumps(text, ensure_ascii=False)
