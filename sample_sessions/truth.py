"""What really happened in a sample: each command in its phase, and all speech that must not count."""

import json
from collections.abc import Sequence
from dataclasses import dataclass

from sample_sessions.script import Line, Plan

KINDS = {
    "praise": "praise",
    "reminder": "reminder",
    "next phase": "phase",
    "phase": "phase",
    "undo": "undo",
    "note": "note",
    "pause listening": "pause",
}
"""The truth's word for what a phrase of the plan does."""


@dataclass(frozen=True, slots=True)
class Said:
    """A line with the time at which it is heard."""

    line: Line
    begin_s: float
    end_s: float


def phase_at_each(said: Sequence[Said], plan: Plan) -> list[str]:
    """Return the phase in which each of `said` (in order of time) begins.

    A phase ends when a phrase that opens another has been said, or, where the plan lets the clock
    do it, after its planned minutes.
    """
    phases = []
    now, since_s = 0, 0.0
    for one in said:
        while plan.by_clock[now] and one.begin_s >= since_s + 60 * plan.minutes[now]:
            since_s += 60 * plan.minutes[now]
            now += 1
        phases.append(plan.phases[now])
        if one.line.command and KINDS[plan.kinds[one.line.say]] == "phase":
            opened = plan.opens.get(one.line.say)
            now = now + 1 if opened is None else plan.phases.index(opened)
            since_s = one.end_s
    return phases


def truth_toml(said: Sequence[Said], plan: Plan) -> str:
    """Return the text of `truth.toml` for `said` in order of time."""
    commands, talk = [], []
    for one, phase in zip(said, phase_at_each(said, plan), strict=True):
        times = f"begin_s = {one.begin_s:.2f}\nend_s = {one.end_s:.2f}\n"
        if one.line.command:
            kind = KINDS[plan.kinds[one.line.say]]
            commands.append(
                f'[[spoken]]\n{times}phrase = "{one.line.say}"\nkind = "{kind}"\nphase = "{phase}"\n'
            )
        else:
            talk.append(f'[[talk]]\n{times}text = {_quoted(one.line.say)}\nwhy = {_quoted(_why(one.line))}\n')
    return "\n".join(commands + talk)


def _why(line: Line) -> str:
    if line.why:
        return line.why
    return "the teacher talks to the class" if line.who == "teacher" else f"another voice: {line.who}"


def _quoted(text: str) -> str:
    """Return `text` as a TOML string; JSON's is one."""
    return json.dumps(text, ensure_ascii=False)
