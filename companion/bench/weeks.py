"""How often weeks of lessons mislead: findings and effects on simulated classes whose truth is known."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from companion.lesson.chance import Share, share
from companion.lesson.trends import LessonHeld, RoutineCount
from companion.weeks.cell import Cell, cells
from companion.weeks.effect import Turn, effect
from companion.weeks.history import RECENT_WEEKS
from companion.weeks.need import NEEDS_FROM, needs
from companion.weeks.rates import usual

GRADES, TREES = 5, ("Hazel", "Rowan", "Alder", "Birch", "Oak", "Elder", "Willow", "Cherry")
ROUTINES = {
    "arrival": ("boots at the door", "stand ready at the gate"),
    "opening": ("face the board", "palms on the bench"),
    "set-up": ("tap your pot twice",),
    "work time": ("one trowel, two turns", "kitchen voices"),
    "cleanup": ("rinse and hang up", "wash and dry hands"),
    "line-up": ("stand ready at the gate",),
}
TRUTHS = ("two kinds", "one spread", "bad classes")
RULE_LESSONS, RULE_LEAST = 6, 3


@dataclass(frozen=True, slots=True)
class Simulated:
    """A school term: what was marked, and how often each routine truly needs a reminder."""

    cells: tuple[Cell, ...]
    truth: dict[tuple[str, str, str], float]

    def is_needy(self, cell: Cell) -> bool:
        """Whether the routine truly needs to be taught again."""
        return self.truth[cell.class_group, cell.phase, cell.routine] > NEEDS_FROM


def simulate(rng: np.random.Generator, weeks: int, truth: str) -> Simulated:
    """Hold one lesson a week with each class group. truth: one of `TRUTHS`, how rates spread."""
    groups = [f"{grade}-{tree}" for grade in range(1, GRADES + 1) for tree in TREES]
    routines = [(phase, routine) for phase, names in ROUTINES.items() for routine in names]
    worse = set(rng.choice(groups, len(groups) // 5, replace=False).tolist())
    rate = {
        (group, *routine): _rate(rng, truth, worse=group in worse) for group in groups for routine in routines
    }
    lessons, counts = [], []
    for week in range(weeks):
        for group in groups:
            day = f"{date(2026, 9, 7) + timedelta(weeks=week)}"
            lesson = LessonHeld(f"{group} {week}", group, "garden", day)
            lessons.append(lesson)
            counts += [_count(rng, lesson.id, routine, rate[group, *routine]) for routine in routines]
    return Simulated(cells(lessons, counts), rate)


def _rate(rng: np.random.Generator, truth: str, *, worse: bool) -> float:
    if truth == "two kinds":
        return float(rng.beta(10, 8) if rng.random() < 0.1 else rng.beta(2, 22))
    if truth == "one spread":
        return float(rng.beta(0.8, 5.0))
    return float(rng.beta(3, 5) if worse else rng.beta(1, 12))


def _count(rng: np.random.Generator, lesson: str, routine: tuple[str, str], rate: float) -> RoutineCount:
    if rng.random() < rate:
        return RoutineCount(lesson, *routine, int(rng.random() < 0.2), 2 + int(rng.poisson(0.4)))
    return RoutineCount(lesson, *routine, int(rng.poisson(0.7)), 0)


def rule_of_thumb(cell: Cell) -> bool:
    """Whether three of the last six lessons needed a reminder and reminders outnumber the praise."""
    return sum(cell.needy[-RULE_LESSONS:]) >= RULE_LEAST and cell.reminder > cell.praise


@dataclass(frozen=True, slots=True)
class Found:
    """What a rule found in many terms."""

    findings: int = 0
    false: int = 0
    needy: int = 0

    def __add__(self, other: "Found") -> "Found":
        return Found(self.findings + other.findings, self.false + other.false, self.needy + other.needy)

    @property
    def false_share(self) -> Share:
        """Share of the findings that are false."""
        return share(self.false, self.findings)

    @property
    def power(self) -> float:
        """Share of the truly needy routines that were found."""
        return (self.findings - self.false) / max(1, self.needy)


def findings(seed: int, terms: int, weeks: int, truth: str) -> dict[str, Found]:
    """Count what the model and the rule of thumb find in simulated terms."""
    rng = np.random.default_rng(seed)
    total = {"model": Found(), "rule of thumb": Found()}
    for _ in range(terms):
        term = simulate(rng, weeks, truth)
        chosen = {
            "model": [need.cell for need in needs(term.cells)],
            "rule of thumb": [cell for cell in term.cells if rule_of_thumb(cell)],
        }
        needy = sum(map(term.is_needy, term.cells))
        for rule, found in chosen.items():
            total[rule] += Found(len(found), sum(not term.is_needy(cell) for cell in found), needy)
    return total


def effects(
    seed: int, terms: int, truth: str, *, factor: float, before: int = 8, after: int = 6
) -> Counter[str]:
    """Count what is said of the routines found after `before` weeks, in the `after` weeks that follow.

    factor: what teaching again makes of the rate; 1 changes nothing. Beside the model, the naive comparison
    of the share after with the share before, called help at half or less.
    """
    rng = np.random.default_rng(seed)
    said: Counter[str] = Counter()
    for _ in range(terms):
        term = simulate(rng, before, truth)
        found = [need.cell for need in needs(term.cells)]
        changed = dict.fromkeys(found, factor)
        later = {cell: _go_on(rng, term, cell, after, changed.get(cell, 1.0)) for cell in term.cells}
        # As a look does: over the last weeks, of what was taught again those up to the teaching.
        weeks = slice(before + after - RECENT_WEEKS, None)
        looked_at = (
            replace(cell, needy=(*cell.needy, *later[cell] * (cell not in changed))[weeks])
            for cell in term.cells
        )
        known = usual(tuple(cell for cell in looked_at if cell.needy))
        for cell in found:
            needy = sum(later[cell])
            change = effect(known.rates([cell])[0], needy, after).change
            said["cases"] += 1
            said["helped"] += change is Turn.HELPED
            said["worse"] += change is Turn.WORSE
            said["naive"] += needy / after <= 0.5 * cell.count / cell.lessons
    return said


def _go_on(
    rng: np.random.Generator, term: Simulated, cell: Cell, weeks: int, factor: float
) -> tuple[bool, ...]:
    """Return whether the routine needs a reminder in the lessons of more weeks."""
    rate = factor * term.truth[cell.class_group, cell.phase, cell.routine]
    return tuple((rng.random(weeks) < rate).tolist())


def report(seeds: Sequence[int], terms: int, *, weeks: Sequence[int] = (4, 6, 8, 12)) -> Iterator[str]:
    """Yield the tables line by line; terms: of each kind for each seed."""
    model_words, rule_words = f"{'model: false of named':>34}", f"{'rule of thumb: false':>34}"
    yield f"{'truth':12} {'weeks':>5}   {model_words} found   {rule_words} found"
    for truth in TRUTHS:
        for length in weeks:
            model, rule = Found(), Found()
            for seed in seeds:
                found = findings(seed, terms, length, truth)
                model, rule = model + found["model"], rule + found["rule of thumb"]
            yield (
                f"{truth:12} {length:5}   {_words(model.false_share):>34} {model.power:5.0%}"
                f"   {_words(rule.false_share):>34} {rule.power:5.0%}"
            )
    yield ""
    yield f"{'truth':12} {'changed':>10}   {'said to have helped':>34}   {'naive':>34}   worse"
    for truth in TRUTHS:
        for factor, words in ((1.0, "nothing"), (0.3, "to 0.3")):
            said = Counter[str]()
            for seed in seeds:
                said += effects(seed, terms, truth, factor=factor)
            helped, naive = (share(said[what], said["cases"]) for what in ("helped", "naive"))
            yield (
                f"{truth:12} {words:>10}   {_words(helped):>34}   {_words(naive):>34}"
                f"   {said['worse'] / max(1, said['cases']):5.1%}"
            )


def _words(part: Share) -> str:
    """Return a share with its numbers and where it truly lies (95 %)."""
    if not part.total:
        return "none named"
    return f"{part.value:.1%} ({part.low:.1%} to {part.high:.1%}), {part.count} of {part.total}"
