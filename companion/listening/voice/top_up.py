"""Learns a voice from the features of its takes, without their sound."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.detector import LEAST_FIT, Detector, fits, scores
from companion.listening.detection.learning import (
    FEWEST_TAKES,
    Stretches,
    other_speech,
    said_in,
    teach,
    too_few,
    ways_after_cue,
    ways_to_say,
)
from companion.listening.phonemes.acoustic_model import Looks, together
from companion.listening.voice.cues import synthetic_stretches
from companion.listening.voice.dropped import Dropped, heard_as, stretches_of
from companion.listening.voice.features import TakeFeatures, VoiceFeatures
from companion.listening.voice.learnt import Learnt
from companion.listening.voice.speaker import LEAST_AMONG_TAKES, likeness, one_speaker

TRIED_PARTS = 4
"""Parts into which takes and other speech are cut to try what was learnt on what was left out."""
MORE_MISSED = 0.02
"""Share of the variants of rehearsed takes that may be missed more, and …"""
MORE_FALSE = 1
"""… windows of other speech that may be heard more, by chance."""
CLEAREST = 0.25
"""Share of the variants of rehearsed takes that are less clear than what may have been the phrase itself."""

MAY_BE_LOST = 0.01
"""Share of left-out variants heard now that may be lost for it, when the firing point is raised above …"""
MOST_DROPPED = 0.9
"""… so many of the variants of what was dropped, each left out once."""

T = TypeVar("T")
_Scores = NDArray[np.float64]


def relearn(
    vocabulary: Vocabulary,
    features: VoiceFeatures,
    folder: Path | None = None,
    dropped: Sequence[Dropped] = (),
) -> Learnt:
    """Return what `enrolled.learn_voice` would, some two seconds for each detector.

    folder: where cues learnt from synthetic voices are kept. dropped: what was taken for a phrase in lessons
    and was none. Raises CompanionError for too few takes.
    """
    others = other_speech(features.talk)
    detectors = tuple(
        learn_from(
            phrase,
            takes_of(phrase, features),
            others,
            synthetic_stretches(phrase, folder),
            stretches_of(phrase, dropped),
        )
        for phrase in vocabulary.openers
    )
    speaker = one_speaker([take.speaker for take in features.takes])
    return Learnt(detectors, ways_after_cue(vocabulary), speaker)


def learn_from(
    phrase: str,
    takes: Sequence[TakeFeatures],
    others: Looks,
    synthetic: Stretches | None = None,
    dropped: Stretches | None = None,
) -> Detector:
    """Learn to detect `phrase` from the features of its takes and synthetic voices, against other speech.

    Raises CompanionError when there are fewer than `FEWEST_TAKES` in which the phrase is heard.
    """
    chains = ways_to_say(phrase)
    clear = [take for take in takes if fits(take.heard.costs, chains).max() > LEAST_FIT]
    if len(clear) < FEWEST_TAKES:
        raise too_few(phrase, len(clear))
    said = said_in(phrase, together([take.heard for take in clear]))
    return teach(phrase, said, others, np.random.default_rng(0), synthetic=synthetic, dropped=dropped)


@dataclass(frozen=True, slots=True)
class FromLessons:
    """What reviews say of what was heard in lessons."""

    confirmed: Sequence[TakeFeatures] = ()
    dropped: Sequence[Dropped] = ()


NOTHING = FromLessons()


@dataclass(frozen=True, slots=True)
class Heard:
    """What a way of learning makes of what it did not learn from."""

    missed: int
    """Variants of rehearsed takes."""
    variants: int
    false: int
    """Windows of other speech in which a phrase is heard."""
    high: Mapping[str, float] = field(default_factory=dict)
    """By phrase the score that three left-out variants in four have."""
    raised: Mapping[str, float] = field(default_factory=dict)
    """By phrase how much higher it has to fire, so that what was dropped fires less."""

    def worse_than(self, other: "Heard") -> bool:
        """Whether it misses more, or hears more that was not said, than chance would have it."""
        return (
            self.missed - other.missed > MORE_MISSED * self.variants or self.false > other.false + MORE_FALSE
        )


def trusted(rehearsed: VoiceFeatures, reviewed: Sequence[TakeFeatures]) -> tuple[TakeFeatures, ...]:
    """Return the takes from lessons that are of the rehearsed voice; all, where that was not clearly one.

    A child's or a colleague's that was confirmed by mistake must not be learnt as the teacher's.
    """
    teacher = one_speaker([take.speaker for take in rehearsed.takes])
    if teacher is None:
        return tuple(reviewed)
    return tuple(take for take in reviewed if likeness(teacher, take.speaker) >= LEAST_AMONG_TAKES)


def unlike_takes(
    learnt: Learnt, dropped: Sequence[Dropped], high: Mapping[str, float]
) -> tuple[Dropped, ...]:
    """Return what was dropped and does not sound like the phrase itself in the learnt voice.

    A mark may be dropped that was rightly heard, since it was unfair; the phrase in it must stay the phrase.
    high: by phrase, the score that most takes have.
    """
    detectors = {detector.phrase: detector for detector in learnt.detectors if detector.phrase in high}
    return tuple(
        one
        for one in dropped
        if one.phrase in detectors and np.median(heard_as(detectors[one.phrase], one)) < high[one.phrase]
    )


@dataclass(frozen=True, slots=True)
class TopUp:
    """What is learnt of a voice with what reviews confirmed and dropped."""

    learnt: Learnt
    confirmed: int
    """Phrases that were learnt, …"""
    dropped: int
    """… and sounds that it was told from."""


def top_up(
    vocabulary: Vocabulary,
    rehearsed: VoiceFeatures,
    lessons: FromLessons,
    folder: Path | None = None,
    *,
    alone: Heard | None = None,
) -> TopUp:
    """Learn with what reviews confirmed and dropped.

    All of it, else one of the two alone: the first with which left-out takes and other speech are heard no
    worse than with the rehearsal alone. Without a rehearsal's takes there is nothing to compare with.
    alone: what `tried` says of the rehearsal, where that is known.

    Raises CompanionError where nothing of it can be learnt, and where the voice would be heard worse for it.
    """
    said = trusted(rehearsed, lessons.confirmed)
    if not rehearsed.takes:
        return TopUp(relearn(vocabulary, VoiceFeatures(said), folder), len(said), 0)
    alone = alone or tried(vocabulary, rehearsed, folder=folder)
    unsaid = unlike_takes(relearn(vocabulary, rehearsed, folder), lessons.dropped, alone.high)
    ways = [FromLessons(said, unsaid), FromLessons(said), FromLessons((), unsaid)]
    if not said and not unsaid:
        raise CompanionError(
            _(
                "Nothing that reviews kept can be learnt: it is not clearly your voice, or is the phrase "
                "itself."
            ),
            safe=_("What was learnt before is as it was."),
            remedy=_("Rehearse again: companion rehearse"),
        )
    for way in ways[: 3 if said and unsaid else 1]:
        heard = tried(vocabulary, rehearsed, way, folder)
        if not heard.worse_than(alone):
            features = VoiceFeatures((*rehearsed.takes, *way.confirmed), rehearsed.talk)
            learnt = relearn(vocabulary, features, folder, way.dropped)
            higher = tuple(
                replace(one, fires_at=one.fires_at + heard.raised[one.phrase]) for one in learnt.detectors
            )
            # A take that is less like the others must not make every voice the teacher's.
            speaker = learnt.speaker or one_speaker([take.speaker for take in rehearsed.takes])
            known = replace(learnt, detectors=higher, speaker=speaker)
            return TopUp(known, len(way.confirmed), len(way.dropped))
    raise CompanionError(
        _("With what you confirmed and dropped in reviews your voice would be heard worse than now."),
        safe=_("What was learnt before is as it was."),
        remedy=_("If your voice or microphone is another now, rehearse again: companion rehearse"),
    )


def tried(
    vocabulary: Vocabulary,
    rehearsed: VoiceFeatures,
    lessons: FromLessons = NOTHING,
    folder: Path | None = None,
) -> Heard:
    """Return how what is learnt from a rehearsal and from lessons hears what is left out of both.

    Each take is left out once, each part of the other speech, and of what was dropped; some two seconds a
    part. Only rehearsed takes are counted, so that all ways of learning are compared on the same.
    """
    trial = _Trial(rehearsed, lessons, other_speech(rehearsed.talk), folder)
    missed = variants = false = 0
    high, raised = {}, {}
    for phrase in vocabulary.openers:
        parts = [trial.left_out(phrase, part) for part in range(TRIED_PARTS)]
        takes = np.concatenate([part.takes for part in parts])
        confirmed = np.concatenate([part.confirmed for part in parts])
        dropped = np.concatenate([part.dropped for part in parts])
        raised[phrase] = _raised(np.concatenate((takes, confirmed)), dropped)
        missed += int(np.sum(takes < raised[phrase]))
        variants += len(takes)
        false += int(np.sum(np.concatenate([part.speech for part in parts]) >= raised[phrase]))
        high[phrase] = float(np.quantile(np.concatenate([part.scores for part in parts]), CLEAREST))
    return Heard(missed, variants, false, high, raised)


@dataclass(frozen=True, slots=True)
class _LeftOut:
    """What a detector makes of what it did not learn from: how far it lies above its firing point."""

    takes: _Scores
    confirmed: _Scores
    dropped: _Scores
    speech: _Scores
    scores: _Scores
    """Of the takes, as they are."""


@dataclass(frozen=True, slots=True)
class _Trial:
    rehearsed: VoiceFeatures
    lessons: FromLessons
    others: Looks
    folder: Path | None

    def left_out(self, phrase: str, part: int) -> _LeftOut:
        """Learn from all parts but one, and hear that one."""
        said = takes_of(phrase, self.rehearsed)
        confirmed = [take for take in self.lessons.confirmed if take.phrase == phrase]
        dropped = [one for one in self.lessons.dropped if one.phrase == phrase]
        rest, more = _rest(said, part), _rest(confirmed, part)
        if len(rest) + len(more) < FEWEST_TAKES:
            rest = said
        out = np.arange(len(self.others.costs)) * TRIED_PARTS // max(1, len(self.others.costs)) == part
        detector = learn_from(
            phrase,
            [*rest, *more],
            only(self.others, ~out),
            synthetic_stretches(phrase, self.folder),
            stretches_of(phrase, _rest(dropped, part)),
        )
        takes = _joined(scores(detector, take.heard) for take in said[part::TRIED_PARTS])
        return _LeftOut(
            takes - detector.fires_at,
            _joined(scores(detector, take.heard) for take in confirmed[part::TRIED_PARTS])
            - detector.fires_at,
            _joined(heard_as(detector, one) for one in dropped[part::TRIED_PARTS]) - detector.fires_at,
            scores(detector, only(self.others, out)) - detector.fires_at,
            takes,
        )


def _joined(parts: Iterable[_Scores]) -> _Scores:
    return np.concatenate((np.zeros(0), *parts))


def _rest(found: Sequence[T], part: int) -> list[T]:
    return [one for number, one in enumerate(found) if number % TRIED_PARTS != part]


def _raised(said: _Scores, dropped: _Scores) -> float:
    """Return how much higher to fire, above most of what was dropped but beneath nearly all that was said."""
    if not len(dropped):
        return 0.0
    heard_now = said[said >= 0]
    if not len(heard_now):
        return 0.0
    most = float(np.quantile(heard_now, MAY_BE_LOST))
    return max(0.0, min(most, float(np.quantile(dropped, MOST_DROPPED))))


def takes_of(phrase: str, features: VoiceFeatures) -> list[TakeFeatures]:
    """Return the takes of one phrase."""
    return [take for take in features.takes if take.phrase == phrase]


def only(others: Looks, chosen: NDArray[np.bool_]) -> Looks:
    """Return the chosen windows."""
    return Looks(others.costs[chosen], others.embeddings[chosen])
