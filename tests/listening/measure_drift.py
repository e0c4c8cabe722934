"""How soon it is told that a voice is heard less well, and how often it is told where nothing has changed.

`python -m tests.listening.measure_drift FILE [--terms 50] [--voices chosen|reported]`: FILE keeps what the
ear makes of each synthetic voice (`changed_voices`; ten minutes of a processor the first time). From that,
terms are drawn: 35 lessons a week for twelve weeks, two to seven marks by voice in each, in classes of
different loudness that also changes within a lesson; of the near misses six in ten are confirmed. A change
comes after none to 120 lessons and stays. `chosen` are the voices that the limits of `weeks/hearing.py` were
chosen with (seed 0; in brackets Wilson's 95 %).
"""

import argparse
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from companion.lesson.chance import share
from companion.log.hearing import LessonHeard
from companion.weeks.hearing import heard_less_since
from tests.listening.changed_voices import CHANGES, LEVELS, Heard, hear_all

VOICES = {
    "chosen": ("espeak:en-gb+f2", "espeak:en-us+m3", "flite:awb", "flite:rms"),
    "reported": ("espeak:en-gb+m7", "espeak:en-us", "flite:kal16", "flite:slt"),
}
TERM, LESSONS_A_DAY = 420, 7
LATEST_CHANGE, WAITED_FOR = 120, 60
"""Lessons before a change at most, and lessons after it in which it has to be told."""
MARKS = (2, 8)
CONFIRMED = 0.6


def lesson(heard: Heard, change: str, day: date, rng: np.random.Generator) -> LessonHeard | None:
    """Return what the log has of a lesson; None where the voice made no mark that stands."""
    loudness = int(rng.integers(len(LEVELS)))
    odds = []
    for _ in range(int(rng.integers(*MARKS))):
        level = LEVELS[int(np.clip(loudness + rng.integers(-1, 2), 0, len(LEVELS) - 1))]
        clips = heard[change][f"{level:g}"]
        one = clips[int(rng.integers(len(clips)))]
        if one is not None and (one >= 0 or rng.random() < CONFIRMED):
            odds.append(one)
    return LessonHeard(day, len(odds), sum(odds)) if odds else None


def told_after(
    rehearsed: float, heard: Heard, change: str, changes_at: int, rng: np.random.Generator
) -> int | None:
    """Return after how many lessons since the change it is told first; None where it is not told in time."""
    lessons: list[LessonHeard] = []
    last = TERM if change == "nothing" else changes_at + WAITED_FOR
    for number in range(last):
        day = date(2026, 9, 1) + timedelta(days=number // LESSONS_A_DAY)
        held = lesson(heard, change if number >= changes_at else "nothing", day, rng)
        lessons += [held] if held else []
        if number >= changes_at and heard_less_since(lessons, rehearsed) is not None:
            return number - changes_at + 1
    return None


def told(voices: dict[str, tuple[float, Heard]], terms: int) -> Iterator[str]:
    """Yield a line a change."""
    for change in CHANGES:
        after: list[int | None] = []
        for voice, (rehearsed, heard) in voices.items():
            rng = np.random.default_rng((0, *voice.encode()))
            for _ in range(terms):
                changes_at = 0 if change == "nothing" else int(rng.integers(LATEST_CHANGE + 1))
                after.append(told_after(rehearsed, heard, change, changes_at, rng))
        found = [lessons for lessons in after if lessons is not None]
        part = share(len(found), len(after))
        words = f"{change}: told in {part.value:.1%} ({part.low:.1%}–{part.high:.1%}) of {len(after)} terms"
        if found and change != "nothing":
            median, most = np.quantile(found, (0.5, 0.9))
            words += f", after {median:.0f} lessons (nine in ten within {most:.0f})"
        yield words


def main() -> None:
    """Print the lines."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("file", type=Path)
    asked.add_argument("--terms", type=int, default=50)
    asked.add_argument("--voices", choices=VOICES, default="reported")
    given = asked.parse_args()
    every = hear_all(given.file, [voice for voices in VOICES.values() for voice in voices])
    for line in told({voice: every[voice] for voice in VOICES[given.voices]}, given.terms):
        print(line)


if __name__ == "__main__":
    main()
