"""What ten lessons with reviews make of a voice: misses and false marks from lesson to lesson.

`python -m tests.listening.measure_reviews FOLDER [--only VOICE …] [--jobs 2]`: synthetic voices say “garden
team”, a phrase without a cue that is hard on purpose, since much that is said in a lesson is nearly that.
FOLDER keeps what was measured of each voice; what is there is not measured again. A voice rehearses with four
takes. In each of ten lessons it says the phrase six times and six sentences that are
nearly it, beneath the benchmark's own noise (4 to 14 dB). What the companion makes of them is reviewed: a
false mark is dropped, a phrase that was a near miss or a doubtful mark is confirmed; what was neither heard
nor nearly heard stays lost. The sixth lesson's review is bad: three marks that were right are dropped, two
false ones are kept, and what another voice said is confirmed. After each lesson the voice is topped up, as
`companion rehearse --top-up` does it. Heard are the phrase and the sentences at other paces in other noise
(10 and 6 dB), and the phrase by other voices at 10 dB (seed 0; in brackets Wilson's 95 %). The same clips
are heard after each lesson: what changed is told clip by clip, with the chance of as great a difference
where nothing changed (McNemar's exact test). `--picture FILE` draws what is in FOLDER.
"""

import argparse
import json
import math
import multiprocessing
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import astuple, dataclass
from functools import partial
from pathlib import Path

import numpy as np

from companion.bench.conditions import Condition, place
from companion.errors import CompanionError
from companion.lesson.chance import share
from companion.lesson.doubts import CERTAIN
from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.detector import detect, scores
from companion.listening.detection.enrolled_spotter import NEAR_MISS_LOG_ODDS
from companion.listening.microphone.recent import AFTER_S, BEFORE_S
from companion.listening.phonemes.acoustic_model import WINDOW_SAMPLES, Looks, hear, window_ending
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.voice.dropped import Dropped, dropped_features
from companion.listening.voice.features import TakeFeatures, rehearsed_features, reviewed_features
from companion.listening.voice.learnt import Learnt
from companion.listening.voice.top_up import FromLessons, relearn, top_up, tried
from tests.listening.speakers import say

PHRASE = "garden team"
HOP = int(0.24 * SAMPLE_RATE)
WORDS = Vocabulary((PHRASE,))
NEARLY = ("carbon team", "guardian team", "pardon team", "garden scene", "garden theme", "garden seat")
SENTENCES = ("now the {} is next to us", "we looked at a {} yesterday", "did you like the {} there")
OTHER_SENTENCES = ("some people call it a {} here", "there was a {} on the table")
TAKE_PACES = (0.94, 1.0, 1.04, 1.1)
PACES, OTHER_PACES = (0.9, 0.97, 1.02, 1.08, 1.13), (0.92, 0.99, 1.05, 1.11)
LEVELS = (10.0, 6.0)
OWN_OF_EACH = 3
"""Clips of the phrase at each pace and level."""
LESSONS, SAID, BAD_REVIEW = 10, 6, 6
VOICES = (
    "flite:slt", "flite:rms", "espeak:en-us", "espeak:en-gb+f2",
    "flite:awb", "flite:kal16", "espeak:en-us+m3", "espeak:en-gb+m7",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Row:
    """What is heard after a lesson."""

    missed: tuple[bool, ...]
    """Of the clips of the phrase, in their order."""
    false: tuple[bool, ...]
    """Whether each sentence made a mark, …"""
    by_others: tuple[bool, ...]
    """… and the phrase by each other voice."""
    confirmed: int
    dropped: int
    taken_over: bool


@dataclass(frozen=True, slots=True)
class Found:
    """What was taken for the phrase in a clip. Places are sample numbers."""

    begin: int
    end: int
    fired: bool
    confidence: float


@dataclass(slots=True)
class Kept:
    """What reviews have left of a voice so far."""

    confirmed: list[TakeFeatures]
    dropped: list[Dropped]


def beneath(sound: Sound, snr_db: float, rng: np.random.Generator) -> Sound:
    """Put a clip into a class, with room before and after it."""
    padded = np.pad(sound, (int(BEFORE_S * SAMPLE_RATE), int(AFTER_S * SAMPLE_RATE)))
    return place(padded, Condition(False, snr_db), (), rng)


def looked_at(sound: Sound) -> Looks:
    """Return what the ear hears of a clip, looking every 240 ms."""
    ends = range(WINDOW_SAMPLES // 2, len(sound), HOP)
    return hear(np.stack([window_ending(sound, end) for end in ends]))


def heard(learnt: Learnt, looks: Looks) -> Found | None:
    """Return the likeliest that a voice makes of a clip; None where there is not even a near miss."""
    detector = learnt.detectors[0]
    best = int(scores(detector, looks).argmax())
    found = detect(detector, Looks(looks.costs[best : best + 1], looks.embeddings[best : best + 1]))
    if found is None or (odds := detector.log_odds(found.score)) < NEAR_MISS_LOG_ODDS:
        return None
    starts = WINDOW_SAMPLES // 2 + best * HOP - WINDOW_SAMPLES
    begin, end = (starts + int(at * SAMPLE_RATE) for at in (found.begin_s, found.end_s))
    return Found(begin, end, odds >= 0, float(1 / (1 + np.exp(-odds))))


def around(sound: Sound, found: Found) -> Sound:
    """Return what a lesson keeps of a candidate's sound."""
    begin = found.begin - int(BEFORE_S * SAMPLE_RATE)
    end = found.end + int(AFTER_S * SAMPLE_RATE)
    return np.pad(sound[max(0, begin) : end], (max(0, -begin), 0))


def lesson(learnt: Learnt, voice: str, number: int, kept: Kept, rng: np.random.Generator) -> None:
    """Hold a lesson and its review, and keep what comes of it."""
    bad = number == BAD_REVIEW
    for said in range(SAID):
        sound = beneath(say(PHRASE, voice, PACES[int(rng.integers(len(PACES)))]), rng.uniform(4, 14), rng)
        found = heard(learnt, looked_at(sound))
        if found is None:
            continue
        if bad and said < SAID // 2:
            kept.dropped += _dropped(around(sound, found))
        elif not found.fired or found.confidence < CERTAIN:
            kept.confirmed += _confirmed(around(sound, found))
    for said in range(SAID):
        text = SENTENCES[int(rng.integers(len(SENTENCES)))].format(NEARLY[int(rng.integers(len(NEARLY)))])
        sound = beneath(say(text, voice), rng.uniform(4, 14), rng)
        found = heard(learnt, looked_at(sound))
        if found is None or not found.fired:
            continue
        if bad and said < 2:
            kept.confirmed += _confirmed(around(sound, found))
        else:
            kept.dropped += _dropped(around(sound, found))
    if bad:
        other = VOICES[(VOICES.index(voice) + 1) % len(VOICES)]
        kept.confirmed += _confirmed(beneath(say(PHRASE, other), 10, rng))


def one_voice(voice: str) -> Iterator[Row]:
    """Yield what is heard before the first lesson and after each."""
    rng = np.random.default_rng((0, *voice.encode()))
    rehearsed = rehearsed_features(WORDS, {PHRASE: [say(PHRASE, voice, pace) for pace in TAKE_PACES]}, [])
    learnt, kept, over = relearn(WORDS, rehearsed), Kept([], []), False
    alone, tests = tried(WORDS, rehearsed), _tests(voice)
    for number in range(LESSONS + 1):
        if number:
            lesson(learnt, voice, number, kept, rng)
            over = False
            with suppress(CompanionError):
                lessons = FromLessons(kept.confirmed, kept.dropped)
                learnt, over = top_up(WORDS, rehearsed, lessons, alone=alone).learnt, True
        yield _row(learnt, tests, kept, over)


def _tests(voice: str) -> tuple[list[Looks], ...]:
    """Return what is heard after each lesson: the phrase, sentences that are nearly it, and other voices."""
    rng = np.random.default_rng(1)
    levels = LEVELS * OWN_OF_EACH
    own = [beneath(say(PHRASE, voice, pace), snr, rng) for pace in OTHER_PACES for snr in levels]
    nearly = [
        beneath(say(sentence.format(near), voice, 1.03), snr, rng)
        for sentence in OTHER_SENTENCES
        for near in NEARLY
        for snr in LEVELS
    ]
    others = [beneath(say(PHRASE, other), 10, rng) for other in VOICES if other != voice]
    return tuple([looked_at(sound) for sound in sounds] for sounds in (own, nearly, others))


def _row(learnt: Learnt, tests: Sequence[Sequence[Looks]], kept: Kept, over: bool) -> Row:
    own, false, by_others = (_marks(learnt, looks) for looks in tests)
    missed = tuple(not mark for mark in own)
    return Row(missed, false, by_others, len(kept.confirmed), len(kept.dropped), over)


def _marks(learnt: Learnt, clips: Sequence[Looks]) -> tuple[bool, ...]:
    found = (heard(learnt, looks) for looks in clips)
    return tuple(one is not None and one.fired for one in found)


def _confirmed(clip: Sound) -> list[TakeFeatures]:
    found = reviewed_features(PHRASE, clip)
    return [] if found is None else [found]


def _dropped(clip: Sound) -> list[Dropped]:
    found = dropped_features(PHRASE, clip)
    return [] if found is None else [found]


def measure(voice: str, folder: Path) -> list[Row]:
    """Return the rows of a voice; they stand in `folder` as soon as they are known."""
    path = folder / f"{voice.replace(':', '-').replace('+', '-')}.json"
    if path.is_file() and len(rows := read(path)) > LESSONS:
        return rows
    rows = []
    for row in one_voice(voice):
        rows.append(row)
        path.write_text(json.dumps([astuple(one) for one in rows]), "utf-8")
    return rows


def read(path: Path) -> list[Row]:
    """Return the rows that stand in a file."""
    kept = json.loads(path.read_text("utf-8"))
    return [Row(tuple(missed), tuple(false), tuple(others), *rest) for missed, false, others, *rest in kept]


KINDS = ("missed", "false", "by_others")


def told(of_voices: Sequence[Sequence[Row]]) -> Iterator[str]:
    """Yield a line a lesson, and what changed from one to the next and since before the first."""
    lessons = list(zip(*of_voices, strict=True))
    for number, rows in enumerate(lessons):
        yield (
            f"after {number:2} lessons: missed {_share(rows, 'missed')}, false marks"
            f" {_share(rows, 'false')}, marks by others {_share(rows, 'by_others')};"
            f" confirmed {sum(row.confirmed for row in rows)}, dropped {sum(row.dropped for row in rows)},"
            f" taken over by {sum(row.taken_over for row in rows)} of {len(rows)}"
        )
        if number:
            for since in sorted({0, number - 1}):
                yield f"    since {since}: " + ", ".join(
                    f"{kind} {_change(lessons[since], rows, kind)}" for kind in KINDS
                )


def clips(rows: Sequence[Row], kind: str) -> list[bool]:
    """Return all clips of a kind, of all voices."""
    return [one for row in rows for one in getattr(row, kind)]


def _change(before: Sequence[Row], after: Sequence[Row], kind: str) -> str:
    """Return how many clips of a kind came and went, and how likely as great a difference is by chance."""
    pairs = list(zip(clips(before, kind), clips(after, kind), strict=True))
    came, went = sum(b > a for a, b in pairs), sum(a > b for a, b in pairs)
    return f"+{came} -{went} ({by_chance(came, went):.2g})"


def by_chance(came: int, went: int) -> float:
    """Return how likely so unequal a split, or a more unequal one, is of as many fair throws."""
    throws, fewer = came + went, min(came, went)
    return min(1.0, 2.0 * sum(math.comb(throws, k) for k in range(fewer + 1)) / 2.0**throws)


def _share(rows: Sequence[Row], kind: str) -> str:
    found = clips(rows, kind)
    part = share(sum(found), len(found))
    return f"{part.value:.1%} ({part.low:.0%}–{part.high:.0%})"


def draw(of_voices: Sequence[Sequence[Row]], path: Path) -> None:
    """Draw misses and false marks from lesson to lesson: of all voices (Wilson, 95 %), and of each thinly."""
    from matplotlib import use  # noqa: PLC0415 - only for the picture

    use("agg")
    from matplotlib import pyplot  # noqa: PLC0415

    figure, panels = pyplot.subplots(1, 2, figsize=(9, 3.6), sharex=True, sharey=True)
    titles = {"missed": "the phrase, missed", "false": "sentences that are nearly it, false marks"}
    for panel, (kind, title) in zip(panels, titles.items(), strict=True):
        for rows in of_voices:
            panel.plot([100 * np.mean(getattr(row, kind)) for row in rows], color="0.75", linewidth=0.8)
        lessons = [clips(rows, kind) for rows in zip(*of_voices, strict=True)]
        parts = [share(sum(found), len(found)) for found in lessons]
        low, high = ([100 * getattr(part, end) for part in parts] for end in ("low", "high"))
        panel.fill_between(range(len(parts)), low, high, alpha=0.25)
        panel.plot([100 * part.value for part in parts], marker="o", markersize=4)
        panel.axvline(BAD_REVIEW, color="0.4", linestyle=":")
        panel.annotate("a bad review", (BAD_REVIEW, 97), (4, 0), textcoords="offset points", va="top")
        panel.set_title(title, fontsize=11)
        panel.set_xlabel("lessons with a review")
        panel.set_xticks(range(len(parts)))
        panel.set_ylim(0, 100)
        panel.grid(alpha=0.3)
    panels[0].set_ylabel("%")
    figure.tight_layout()
    figure.savefig(path, dpi=110)
    pyplot.close(figure)


def main() -> None:
    """Measure, and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("folder", type=Path)
    asked.add_argument("--only", nargs="*", default=list(VOICES))
    asked.add_argument("--jobs", type=int, default=2)
    asked.add_argument("--picture", type=Path)
    given = asked.parse_args()
    given.folder.mkdir(exist_ok=True)
    with multiprocessing.get_context("spawn").Pool(given.jobs) as pool:
        of_voices = pool.map(partial(measure, folder=given.folder), given.only, chunksize=1)
    for line in told(of_voices):
        print(line)
    if given.picture:
        draw(of_voices, given.picture)


if __name__ == "__main__":
    main()
