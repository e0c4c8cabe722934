"""Runs engines over conditions and counts."""

import math
import multiprocessing
import resource
import time
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from companion.bench.conditions import LEAD, Condition, place
from companion.bench.folder import Labelled
from companion.lesson.vocabulary import Vocabulary
from companion.listening.candidate import Candidate
from companion.listening.detection.takes import speech_in
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.spotter import NewSpotter, hear_whole

_AROUND_MS = 200
"""How far beside the phrase a candidate may lie."""
_CUE_PAUSE_S = 1.0
"""The longest pause between a cue and its command."""
_FEWEST_BETWEEN_MS = 1_000
"""False alarms closer together count as one."""


@dataclass(frozen=True, slots=True)
class ClipOutcome:
    """What an engine made of one clip: the best candidate of its phrase, and what fired wrongly."""

    phrase: str
    log_odds: float
    fired: bool
    wrong: bool
    """Another phrase fired where this one was said."""
    strays: int
    """What fired where nothing was said."""
    found: bool
    """Whether there was any candidate where the phrase was said."""
    latency_s: float

    @property
    def right(self) -> bool:
        """Whether there was a candidate of the phrase itself."""
        return self.log_odds > -math.inf


@dataclass(slots=True)
class Run:
    """One engine's outcomes."""

    engine: str
    outcomes: dict[Condition, list[ClipOutcome]] = field(default_factory=dict)
    unrelated: dict[Condition, list[bool]] = field(default_factory=dict)
    """Whether anything fired in each recording of the cue with something that is no command."""
    fired: list[float] = field(default_factory=list)
    """Log odds of what fired in talk."""
    fired_as: list[str] = field(default_factory=list)
    """The phrases of these."""
    unfired: list[float] = field(default_factory=list)
    """Log odds of what did not, but was found there."""
    talk_s: float = 0.0
    sound_s: float = 0.0
    processor_s: float = 0.0
    memory_mb: float = 0.0

    @property
    def alarms(self) -> list[float]:
        """Log odds of everything found in talk, highest first."""
        return sorted((*self.fired, *self.unfired), reverse=True)

    @property
    def processor_share(self) -> float:
        """Part of one core that listening takes."""
        return self.processor_s / self.sound_s if self.sound_s else 0.0

    def firing_point_for(self, false_alarms_per_hour: float) -> float:
        """Return the log odds that gives so many false alarms an hour on the talk."""
        allowed = int(false_alarms_per_hour * self.talk_s / 3600)
        alarms = self.alarms
        return alarms[allowed] if len(alarms) > allowed else -math.inf

    def misses_at(self, point: float, condition: Condition) -> int:
        """Return how many clips of a condition stay at or below a firing point."""
        return sum(outcome.log_odds <= point for outcome in self.outcomes[condition])


@dataclass(frozen=True, slots=True)
class _Piece:
    """Something to be heard: a clip or an unrelated sentence in a condition, or a recording of talk."""

    sound: Sound
    condition: Condition | None = None
    phrase: str | None = None
    number: tuple[int, ...] = ()
    """Decides which room and noise are drawn for it."""


@dataclass(frozen=True, slots=True)
class _PieceHeard:
    found: list[Candidate]
    sound_s: float
    processor_s: float
    memory_mb: float


def run(
    engine: str,
    new_spotter: NewSpotter,
    labelled: Labelled,
    conditions: Iterable[Condition],
    *,
    seed: int = 0,
    jobs: int = 1,
) -> Run:
    """Let one engine hear every clip in every condition, and all the talk.

    jobs: over how many processes it is spread; the figures stay the same.
    """
    result = Run(engine)
    pieces = list(_pieces(labelled, conditions, seed))
    for piece, heard in zip(pieces, _all_heard(pieces, new_spotter, labelled.rooms, jobs), strict=True):
        result.processor_s += heard.processor_s
        result.sound_s += heard.sound_s
        result.memory_mb = max(result.memory_mb, heard.memory_mb)
        if piece.condition is None:
            _count_alarms(result, heard.found)
            result.talk_s += heard.sound_s
            continue
        outcomes = result.outcomes.setdefault(piece.condition, [])
        unrelated = result.unrelated.setdefault(piece.condition, [])
        if piece.phrase is None:
            unrelated.append(any(found.fired for found in heard.found))
        else:
            outcomes.append(_outcome(piece.phrase, _span_ms(piece.sound, labelled.vocabulary), heard.found))
    return result


def _pieces(labelled: Labelled, conditions: Iterable[Condition], seed: int) -> Iterator[_Piece]:
    for number, condition in enumerate(conditions):
        clips: list[tuple[str | None, Sound]] = [
            (phrase, clip.sound) for phrase, found in labelled.clips.items() for clip in found
        ]
        clips += [(None, sound) for sound in labelled.unrelated]
        for at, (phrase, sound) in enumerate(clips):
            yield _Piece(sound, condition, phrase, (seed, number, at))
    for talk in labelled.talk:
        yield _Piece(talk)


def _all_heard(
    pieces: Sequence[_Piece], new_spotter: NewSpotter, rooms: Sequence[Sound], jobs: int
) -> Iterator[_PieceHeard]:
    if jobs == 1:
        yield from (_hear(piece, new_spotter, rooms) for piece in pieces)
        return
    # What was learnt can't be sent to another process; a forked one has it already.
    global _forked  # noqa: PLW0603
    _forked = pieces, new_spotter, rooms
    # The longest first, so that no process is left alone with an hour of talk.
    order = sorted(range(len(pieces)), key=lambda at: -len(pieces[at].sound))
    with multiprocessing.get_context("fork").Pool(jobs) as pool:
        heard = dict(zip(order, pool.imap(_hear_forked, order), strict=True))
    yield from (heard[at] for at in range(len(pieces)))


_forked: tuple[Sequence[_Piece], NewSpotter, Sequence[Sound]]


def _hear_forked(at: int) -> _PieceHeard:
    pieces, new_spotter, rooms = _forked
    return _hear(pieces[at], new_spotter, rooms)


def _hear(piece: _Piece, new_spotter: NewSpotter, rooms: Sequence[Sound]) -> _PieceHeard:
    sound = piece.sound
    if piece.condition is not None:
        sound = place(sound, piece.condition, rooms, np.random.default_rng(piece.number))
    spotter = new_spotter()
    began = time.process_time()
    found = hear_whole(spotter, sound)
    return _PieceHeard(
        found,
        len(sound) / SAMPLE_RATE,
        time.process_time() - began,
        resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    )


def _span_ms(clip: Sound, vocabulary: Vocabulary) -> tuple[int, int]:
    """Return where the whole spoken form begins and ends in a clip that was put into a room."""
    begin, end = speech_in(clip, _CUE_PAUSE_S) if vocabulary.cue else speech_in(clip)
    return (LEAD + begin) * 1000 // SAMPLE_RATE, (LEAD + end) * 1000 // SAMPLE_RATE


def _outcome(phrase: str, span_ms: tuple[int, int], found: Sequence[Candidate]) -> ClipOutcome:
    begin_ms, end_ms = span_ms
    there = [
        candidate
        for candidate in found
        if candidate.begin_ms < end_ms + _AROUND_MS and candidate.end_ms > begin_ms - _AROUND_MS
    ]
    right = [candidate for candidate in there if candidate.phrase == phrase]
    best = max(right, key=lambda candidate: candidate.confidence, default=None)
    return ClipOutcome(
        phrase,
        log_odds(best.confidence) if best else -math.inf,
        best is not None and best.fired,
        any(candidate.fired and candidate.phrase != phrase for candidate in there),
        sum(candidate.fired for candidate in found if candidate not in there),
        bool(there),
        (best.decided_ms - min(best.end_ms, end_ms)) / 1000 if best else math.nan,
    )


def _count_alarms(result: Run, found: Sequence[Candidate]) -> None:
    taken: list[int] = []
    for candidate in sorted(found, key=lambda candidate: candidate.confidence, reverse=True):
        if any(abs(candidate.begin_ms - other) < _FEWEST_BETWEEN_MS for other in taken):
            continue
        taken.append(candidate.begin_ms)
        (result.fired if candidate.fired else result.unfired).append(log_odds(candidate.confidence))
        if candidate.fired:
            result.fired_as.append(candidate.phrase)


def log_odds(probability: float) -> float:
    """Return the log odds of a probability."""
    inside = min(1 - 1e-15, max(1e-15, probability))
    return math.log(inside / (1 - inside))


def expected_calibration_error(found: Sequence[tuple[float, bool, float]], bins: int = 10) -> float:
    """Return how far confidence lies from the share of true ones, over equal bins of confidence.

    found: confidence, whether it was true, and how often such a one comes. (Naeini et al., AAAI 2015.)
    """
    if not found:
        return 0.0
    confidence, true, often = (np.array(column, np.float64) for column in zip(*found, strict=True))
    inside = np.minimum(bins - 1, (confidence * bins).astype(int))
    gaps = [float(np.sum((often * (confidence - true))[inside == number])) for number in range(bins)]
    return float(np.sum(np.abs(gaps)) / often.sum())
