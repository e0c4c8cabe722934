"""Judges cue and phrases before a lesson does: are they heard, told apart, and kept out of talk."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache
from itertools import product

from companion.errors import CompanionError
from companion.language import _, later
from companion.lesson.vocabulary import Vocabulary
from companion.listening.phonemes.distance import edit_cost
from companion.listening.phonemes.pronunciation import Phonemes, from_dictionary, phonemes, words
from companion.listening.rehearsal.near_words import near_sentences
from companion.listening.rehearsal.talk import hours_apart

_CUE_WORDS = (
    ("velvet", "copper", "silver", "purple", "crystal", "marble", "cobalt", "amber", "scarlet", "maple"),
    ("compass", "lantern", "teapot", "feather", "bridge", "harbor", "pebble", "orchid", "anchor", "saddle"),
)
_ADDED_WORDS = ("everyone", "together", "please", "now", "garden", "again")


class Grade(StrEnum):
    """What the check thinks of a phrase."""

    GOOD = later("good")
    FAIR = later("fair")
    POOR = later("poor")


@dataclass(frozen=True, slots=True)
class Report:
    """What the check found out about one phrase."""

    text: str
    said: Phonemes
    guessed: tuple[str, ...]
    """Words that are in no dictionary, said by their parts or letters."""
    nearest: str | None
    """What it is most easily taken for."""
    difference: float
    """How many phonemes' worth it differs from that (`phonemes.distance.edit_cost`)."""
    hours_apart: float
    """Hours of ordinary talk between one chance use of these words and the next, as far as it was counted."""
    verdict: Grade
    remarks: tuple[str, ...]
    proposals: tuple[str, ...]
    near: tuple[str, ...] = ()
    """Other words that sound nearly like it: alone behind the cue, they might be taken for it."""


@dataclass(frozen=True, slots=True)
class _Demand:
    """What is asked of a phrase: below `poor` it is poor, below `good` fair."""

    phonemes: tuple[int, int]
    difference: tuple[float, float]
    hours: tuple[float, float]


# A cue alone keeps talk out, so it has to be long and rare; a command after a cue has only to differ from
# the other commands; a phrase without a cue has to do everything.
_CUE = _Demand(phonemes=(8, 10), difference=(2.0, 3.0), hours=(100, 10_000))
_AFTER_CUE = _Demand(phonemes=(3, 5), difference=(0.6, 1.0), hours=(0, 0))
_ALONE = _Demand(phonemes=(7, 10), difference=(1.2, 2.0), hours=(20, 1_000))


def check(vocabulary: Vocabulary, names: Iterable[str] = ()) -> list[Report]:
    """Return a report for the cue, if there is one, and for each phrase.

    names: class groups, phases and whatever else is said by name in a lesson.
    Raises CompanionError for a word that nobody knows how to say, and for a language other than English.
    """
    if vocabulary.language.split("-")[0] != "en":
        raise CompanionError(
            _(
                "Phrases in “{language}” cannot be checked: the dictionary is English.",
                language=vocabulary.language,
            ),
            remedy=_("Choose phrases of two or three long words that differ from each other."),
        )
    reports = []
    for phrase in vocabulary.phrases:
        others = [other for other in vocabulary.phrases if other != phrase]
        if vocabulary.cue is None:
            others += [name for name in names if words(name) != words(phrase)]
        reports.append(_report(phrase, others, _AFTER_CUE if vocabulary.cue else _ALONE))
    if vocabulary.cue:
        others = [*vocabulary.phrases, *names]
        reports.insert(0, _report(vocabulary.cue, others, _CUE))
    told = [_with_proposals(report, vocabulary, names) for report in reports]
    return [replace(report, near=tuple(near.text for near in near_sentences(report.text))) for report in told]


def _report(text: str, others: Sequence[str], demand: _Demand) -> Report:
    said = _phonemes(text)
    near = min(((edit_cost(said, _phonemes(other)), other) for other in others), default=(math.inf, None))
    hours = hours_apart(text)
    guessed = tuple(word for word in words(text) if not from_dictionary(word))
    judged = [
        (_grade(len(said), demand.phonemes), _("it is short: a longer one is heard more surely")),
        (_grade(near[0], demand.difference), _("it sounds like “{phrase}”", phrase=near[1])),
        (_grade(hours, demand.hours), _("its words are said in ordinary talk too")),
        (
            _lone(text, said, demand),
            _("a lone short word comes up in talk: give it a cue, or say two long words"),
        ),
        (
            Grade.FAIR if guessed else Grade.GOOD,
            _("how to say “{words}” is only guessed", words=", ".join(guessed)),
        ),
    ]
    grades = [grade for grade, _remark in judged]
    verdict = next((grade for grade in (Grade.POOR, Grade.FAIR) if grade in grades), Grade.GOOD)
    remarks = tuple(remark for grade, remark in judged if grade is not Grade.GOOD)
    return Report(text, said, guessed, near[1], near[0], hours, verdict, remarks, ())


def _lone(text: str, said: Phonemes, demand: _Demand) -> Grade:
    """Return what is thought of a single word without a cue: of a short one, whatever else speaks for it."""
    lone = demand is _ALONE and len(words(text)) == 1 and len(said) < _ALONE.phonemes[1]
    return Grade.POOR if lone else Grade.GOOD


@cache
def _phonemes(text: str) -> Phonemes:
    return phonemes(text)


def _grade(value: float, demand: tuple[float, float]) -> Grade:
    poor, good = demand
    return Grade.POOR if value < poor else Grade.FAIR if value < good else Grade.GOOD


def _with_proposals(report: Report, vocabulary: Vocabulary, names: Iterable[str]) -> Report:
    """Add the three best other wordings that would be judged better."""
    if report.verdict is Grade.GOOD:
        return report
    is_cue = report.text == vocabulary.cue
    demand = _CUE if is_cue else _AFTER_CUE if vocabulary.cue else _ALONE
    others = [phrase for phrase in vocabulary.phrases if phrase != report.text]
    others += [] if vocabulary.cue and not is_cue else list(names)
    texts = (
        [" ".join(pair) for pair in product(*_CUE_WORDS)]
        if is_cue
        else [f"{report.text} {word}" for word in _ADDED_WORDS if word not in words(report.text)]
    )
    better = [_report(text, others, demand) for text in texts]
    better = [other for other in better if _RANK[other.verdict] < _RANK[report.verdict]]
    better.sort(key=lambda other: (_RANK[other.verdict], -other.difference, -len(other.said)))
    return Report(
        report.text, report.said, report.guessed, report.nearest, report.difference, report.hours_apart,
        report.verdict, report.remarks, tuple(other.text for other in better[:3]),
    )  # fmt: skip


def wordings(text: str, vocabulary: Vocabulary, names: Iterable[str] = ()) -> tuple[str, ...]:
    """Return up to three wordings of a phrase that is often misheard, whatever its verdict is.

    They are longer, no worse by the check, and further from all other phrases. Raises as `check` does.
    """
    report = next(report for report in check(vocabulary, names) if report.text == text)
    if report.proposals:
        return report.proposals
    demand = _AFTER_CUE if vocabulary.cue else _ALONE
    others = [phrase for phrase in vocabulary.phrases if phrase != text]
    others += [] if vocabulary.cue else list(names)
    longer = [_report(f"{text} {word}", others, demand) for word in _ADDED_WORDS if word not in words(text)]
    better = [
        one
        for one in longer
        if _RANK[one.verdict] <= _RANK[report.verdict] and one.difference > report.difference
    ]
    better.sort(key=lambda one: (_RANK[one.verdict], -one.difference))
    return tuple(one.text for one in better[:3])


_RANK = {Grade.GOOD: 0, Grade.FAIR: 1, Grade.POOR: 2}
