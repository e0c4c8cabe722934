"""Years of settled sessions as history knows them: summaries and tallies, without their events."""

import random
from datetime import UTC, datetime, timedelta
from pathlib import Path

from ulid import ULID

from companion.log.store import open_log

CLASS_GROUPS = [
    f"{grade}-{tree}" for grade in range(1, 7) for tree in ("Hazel", "Rowan", "Alder", "은행나무")
]
ROUTINES = {
    "arrival": ["walk in on the path"],
    "opening": ["eyes on the speaker"],
    "instruction": ["hands wait", ""],
    "work time": ["share the tools", "kitchen voices", ""],
    "cleanup": ["rinse and hang up", ""],
    "line-up": ["quiet line"],
}
LEVELS = ((7, "Full Basket"), (4, "Half Basket"), (1, "First Sprout"))
USUAL, NEEDY = 0.8, 0.2
"""Share of praise, usually and for `kitchen voices` of 2-Rowan."""


def fill(log: Path, sessions: int, marks: int, years: float = 5) -> None:
    """Write `sessions` with about `marks` in all, evenly over the last `years`, the same ones every time."""
    chance = random.Random(1)
    now = datetime.now(UTC)
    summaries, tallies = [], []
    for number in range(sessions):
        class_group = CLASS_GROUPS[number % len(CLASS_GROUPS)]
        opened_at = now - timedelta(days=(sessions - number) * 365 * years / sessions)
        session = str(ULID.from_datetime(opened_at))
        counts = _counts(chance, class_group, marks / sessions)
        praise, reminder = (sum(count[side] for count in counts.values()) for side in (0, 1))
        margin = praise - reminder
        summaries.append(
            {
                "session": session,
                "class_group": class_group,
                "opened_at": opened_at.isoformat(),
                "plan": "garden and kitchen",
                "room": "",
                "praise": praise,
                "reminder": reminder,
                "margin": margin,
                "recognition": next((name for least, name in LEVELS if margin >= least), None),
                "unreviewed": 0,
                "closed": 1,
                "settled": 1,
                "carry_over": "Show how we close the tap." if number % 3 else "",
            }
        )
        tallies += [
            {"session": session, "phase": phase, "routine": routine, "praise": count[0], "reminder": count[1]}
            for (phase, routine), count in counts.items()
        ]
    with open_log(log) as opened, opened.writing() as db:
        db.table("summary").insert_all(summaries)
        db.table("tally").insert_all(tallies)


def _counts(chance: random.Random, class_group: str, mean: float) -> dict[tuple[str, str], list[int]]:
    counts: dict[tuple[str, str], list[int]] = {}
    for _ in range(max(2, round(chance.gauss(mean, 3)))):
        phase = chance.choice(list(ROUTINES))
        routine = chance.choice(ROUTINES[phase])
        needy = class_group == "2-Rowan" and routine == "kitchen voices"
        praised = chance.random() < (NEEDY if needy else USUAL)
        counts.setdefault((phase, routine), [0, 0])[0 if praised else 1] += 1
    if class_group == "2-Rowan":
        counts.setdefault(("work time", "kitchen voices"), [0, 0])[1] += 2
    return counts
