"""Tells what was measured: as text, as data, as a picture."""

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Console
from rich.table import Table

from companion.bench.conditions import Condition
from companion.bench.folder import Labelled
from companion.bench.measure import ClipOutcome, Run, expected_calibration_error
from companion.bench.people import ONE_PERSON, Recording, people
from companion.errors import CompanionError
from companion.lesson.chance import rate_interval, share
from companion.listening.detection.enrolled_spotter import NEAR_MISS_LOG_ODDS

PHRASES_PER_HOUR = 20
"""How many phrases a teacher says in an hour of talk: for what depends on how rare they are."""

RATES = (0.5, 2.0)
"""False alarms an hour at which misses are told."""


def as_data(runs: Sequence[Run], drawn: Labelled, take_count: int) -> dict[str, Any]:
    """Return everything that was measured on what was drawn, ready for JSON."""
    clips, takes = _clips_and_takes(drawn)
    who = people(clips, takes)
    return {
        "takes": take_count,
        "clips": len(clips),
        "clips_left_out": drawn.left_out,
        "people": who.count,
        "people_by": "name" if who.named else "likeness",
        "nearest_voice_to_a_take": who.nearest,
        "engines": [_engine_data(run) for run in runs],
    }


def show(runs: Sequence[Run], drawn: Labelled, take_count: int, console: Console) -> None:
    """Print who was heard, misses, misses of each word, and everything else."""
    console.print(_heard(runs, drawn, take_count))
    misses = Table(
        "engine", "firing point", *(condition.name for condition in runs[0].outcomes), title="Missed"
    )
    for run in runs:
        for title, point in _points(run):
            misses.add_row(run.engine, title, *(_share(run, point, condition) for condition in run.outcomes))
    console.print(misses)
    if len(drawn.clips) > 1:
        console.print(_word_by_word(runs))
    rest = Table(
        "engine", "false alarms/h in talk", "around clips", "true near misses", "calibration error",
        "latency median, 95 %", "core", "memory",
        title="As it is set",
    )  # fmt: skip
    for run in runs:
        rest.add_row(run.engine, *_as_set(run))
    console.print(rest)
    if any(outcome.wrong for run in runs for found in run.outcomes.values() for outcome in found) or any(
        fired for run in runs for fired in run.unrelated.values()
    ):
        console.print(_taken_for_others(runs))


def _heard(runs: Sequence[Run], drawn: Labelled, take_count: int) -> str:
    """Say what was tested, and how far its speakers are from those of the takes."""
    clips, takes = _clips_and_takes(drawn)
    who = people(clips, takes)
    by = "their names" if who.named else f"likeness (cosine {ONE_PERSON:g} or more)"
    told = f"{take_count} takes; {len(clips)} clips of {who.count} people, by {by}."
    if drawn.left_out:
        told += f" Not tested: {drawn.left_out} clips of people whom a take is of."
    if who.nearest is not None:
        told += f" The clip nearest to a take has {who.nearest:.2f}."
    return f"{told} {runs[0].talk_s / 3600:.2f} h of talk. In brackets: 95 % intervals."


def _clips_and_takes(drawn: Labelled) -> tuple[list[Recording], list[Recording]]:
    return (
        [clip for found in drawn.clips.values() for clip in found],
        [take for found in drawn.takes.values() for take in found],
    )


def _word_by_word(runs: Sequence[Run]) -> Table:
    """Return what is missed of each word as the engines are set, and what was falsely heard as it."""
    table = Table(
        "word", "engine", "clips", *(condition.name for condition in runs[0].outcomes), "false alarms",
        title="Missed, word by word",
    )  # fmt: skip
    for word, of_word in _by_word(runs[0]).items():
        for run in runs:
            found = _by_word(run)[word]
            missed = [sum(not outcome.fired for outcome in some) for some in found.values()]
            shares = [_percent(count, len(some)) for count, some in zip(missed, found.values(), strict=True)]
            clips = len(next(iter(of_word.values())))
            table.add_row(word, run.engine, str(clips), *shares, str(run.fired_as.count(word)))
    return table


def _by_word(run: Run) -> dict[str, dict[Condition, list[ClipOutcome]]]:
    words = dict.fromkeys(outcome.phrase for found in run.outcomes.values() for outcome in found)
    return {
        word: {
            condition: [outcome for outcome in found if outcome.phrase == word]
            for condition, found in run.outcomes.items()
        }
        for word in words
    }


def _taken_for_others(runs: Sequence[Run]) -> Table:
    """Return how what was found was taken: right, for another phrase, or left unclear as a near miss."""
    table = Table(
        "engine", "", *(condition.name for condition in runs[0].outcomes), title="Of what was found"
    )
    for run in runs:
        found = [[outcome for outcome in all_ if outcome.found] for all_ in run.outcomes.values()]
        for title, counts in (
            ("right", [sum(outcome.fired for outcome in some) for some in found]),
            ("wrong", [sum(outcome.wrong for outcome in some) for some in found]),
        ):
            shares = zip(counts, found, strict=True)
            table.add_row(run.engine, title, *(_percent(count, len(some)) for count, some in shares))
        if any(run.unrelated.values()):
            fired = [_percent(sum(heard), len(heard)) for heard in run.unrelated.values()]
            table.add_row(run.engine, "no command, yet fired", *fired)
    return table


def draw(runs: Sequence[Run], path: Path) -> None:
    """Draw false alarms an hour against misses, one panel a condition, on logarithmic axes.

    Raises CompanionError when matplotlib is not installed.
    """
    try:
        from matplotlib import use  # noqa: PLC0415 - only with the extra `bench`

        use("agg")
        from matplotlib import pyplot  # noqa: PLC0415
    except ImportError as error:
        raise CompanionError(
            "The picture needs matplotlib.", remedy="Install lesson-companion[bench]."
        ) from error
    conditions = list(runs[0].outcomes)
    columns = min(4, len(conditions))
    rows = -(-len(conditions) // columns)
    figure, panels = pyplot.subplots(
        rows, columns, figsize=(3.4 * columns, 3.2 * rows), squeeze=False, sharex=True, sharey=True
    )
    for panel, condition in zip(panels.flat, conditions, strict=False):
        for run in runs:
            alarms, misses = curve(run, condition)
            panel.plot(
                alarms,
                misses,
                label=run.engine,
                drawstyle="steps-post",
                marker="o",
                markevery=[0],
                markersize=4,
            )
        panel.set_title(condition.name)
        panel.set_xscale("symlog", linthresh=1)
        panel.set_xlabel("false alarms an hour")
        panel.set_ylabel("missed, %")
        panel.set_ylim(-2, 102)
        panel.tick_params(labelbottom=True)
        panel.grid(alpha=0.3)
    for panel in list(panels.flat)[len(conditions) :]:
        panel.set_visible(False)
    panels.flat[0].legend(fontsize=7)
    figure.tight_layout()
    figure.savefig(path, dpi=110)
    pyplot.close(figure)


def curve(run: Run, condition: Condition) -> tuple[list[float], list[float]]:
    """Return the detection-error trade-off: false alarms an hour, and the per cent missed at each."""
    hours = max(run.talk_s / 3600, 1e-9)
    clips = max(1, len(run.outcomes[condition]))
    counts = range(len(run.alarms) + 1)
    points = [*run.alarms, -math.inf]
    return (
        [count / hours for count in counts],
        [100 * run.misses_at(points[count], condition) / clips for count in counts],
    )


def _points(run: Run) -> list[tuple[str, float | None]]:
    at_rates = [(f"{rate:g}/h", run.firing_point_for(rate)) for rate in RATES] if run.talk_s else []
    return [("as set", None), *at_rates]


def _missed(run: Run, point: float | None, condition: Condition) -> int:
    if point is None:
        return sum(not outcome.fired for outcome in run.outcomes[condition])
    return run.misses_at(point, condition)


def _share(run: Run, point: float | None, condition: Condition) -> str:
    missed, clips = _missed(run, point, condition), len(run.outcomes[condition])
    return _percent(missed, clips)


def _percent(count: int, of: int) -> str:
    part = share(count, of)
    return f"{100 * part.value:.1f} % ({100 * part.low:.0f}–{100 * part.high:.0f})"


def _interval(missed: int, clips: int) -> tuple[float, float]:
    part = share(missed, clips)
    return part.low, part.high


def _as_set(run: Run) -> tuple[str, ...]:
    hours = run.talk_s / 3600
    low, high = rate_interval(len(run.fired), hours) if hours else (0.0, math.inf)
    outcomes = [outcome for found in run.outcomes.values() for outcome in found]
    strays = sum(outcome.strays for outcome in outcomes)
    around_h = (run.sound_s - run.talk_s) / 3600
    latencies = _latencies(run)
    true_near = _true_near_misses(run)
    return (
        f"{len(run.fired) / hours:.2f} ({low:.2f}–{high:.2f})" if hours else "–",
        f"{strays / around_h:.1f}" if around_h else "–",
        f"{100 * true_near:.0f} %" if true_near is not None else "–",
        f"{_calibration(run):.3f}" if hours else "–",
        f"{np.median(latencies):.2f} s, {np.quantile(latencies, 0.95):.2f} s" if latencies else "–",
        f"{run.processor_share:.3f}",
        f"{run.memory_mb:.0f} MB",
    )


def _latencies(run: Run) -> list[float]:
    return [outcome.latency_s for found in run.outcomes.values() for outcome in found if outcome.fired]


def _weighed(run: Run) -> tuple[list[tuple[float, bool, float]], list[tuple[float, bool, float]]]:
    """Return what fired and what was a near miss: confidence, whether it was true, how often it comes.

    All is weighed as if `PHRASES_PER_HOUR` phrases were said in each hour of the talk.
    """
    said = [outcome for found in run.outcomes.values() for outcome in found]
    often = PHRASES_PER_HOUR * run.talk_s / 3600 / max(1, len(said))
    fired = [(outcome.log_odds, True, often) for outcome in said if outcome.fired]
    near = [(outcome.log_odds, True, often) for outcome in said if outcome.right and not outcome.fired]
    fired += [(odds, False, 1.0) for odds in run.fired]
    near += [(odds, False, 1.0) for odds in run.unfired]
    return _told(fired), _told(near)


def _told(found: Sequence[tuple[float, bool, float]]) -> list[tuple[float, bool, float]]:
    """Return what a review would be told, with its confidence."""
    return [
        (1 / (1 + math.exp(-odds)), true, often) for odds, true, often in found if odds >= NEAR_MISS_LOG_ODDS
    ]


def _calibration(run: Run) -> float:
    fired, near = _weighed(run)
    return expected_calibration_error([*fired, *near])


def _true_near_misses(run: Run) -> float | None:
    """Return the part of the near misses that were true; None where there were none."""
    _, near = _weighed(run)
    often = sum(weight for _, _, weight in near)
    return sum(weight for _, true, weight in near if true) / often if often else None


def _engine_data(run: Run) -> dict[str, Any]:
    hours = run.talk_s / 3600
    latencies = _latencies(run)
    return {
        "engine": run.engine,
        "talk_hours": hours,
        "false_alarms": len(run.fired),
        "false_alarms_per_hour_95": rate_interval(len(run.fired), hours) if hours else None,
        "calibration_error": _calibration(run) if hours else None,
        "true_near_misses": _true_near_misses(run),
        "latency_median_s": float(np.median(latencies)) if latencies else None,
        "latency_95_s": float(np.quantile(latencies, 0.95)) if latencies else None,
        "processor_share": run.processor_share,
        "memory_mb": run.memory_mb,
        "words": {
            word: {
                "false_alarms": run.fired_as.count(word),
                "missed": {
                    condition.name: {
                        "count": sum(not outcome.fired for outcome in some),
                        "clips": len(some),
                    }
                    for condition, some in found.items()
                },
            }
            for word, found in _by_word(run).items()
        },
        "conditions": [
            {
                "condition": condition.name,
                "clips": len(found),
                "found": sum(outcome.found for outcome in found),
                "right": sum(outcome.fired for outcome in found),
                "wrong": sum(outcome.wrong for outcome in found),
                "fired_around": sum(outcome.strays for outcome in found),
                "unrelated": len(run.unrelated[condition]),
                "unrelated_fired": sum(run.unrelated[condition]),
                "missed": {
                    title: {
                        "count": _missed(run, point, condition),
                        "share_95": _interval(_missed(run, point, condition), len(found)),
                    }
                    for title, point in _points(run)
                },
                "curve": curve(run, condition) if hours else None,
            }
            for condition, found in run.outcomes.items()
        ],
    }
