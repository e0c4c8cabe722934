"""How well the marks of a session agree with what was truly said: found, missed, false."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Self

from companion.lesson.mark import Kind, Mark, Source

TOLERANCE_MS = 1_500
"""A mark is the spoken phrase's own if its beginning is this close to the phrase's."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """A command that was truly said; `kind` is praise, reminder, phase, undo, note or pause."""

    begin_ms: int
    end_ms: int
    phrase: str
    kind: str
    phase: str

    @classmethod
    def of(cls, entry: Mapping[str, Any]) -> Self:
        """Return the command in one `[[spoken]]` table of a truth file."""
        return cls(
            begin_ms=round(entry["begin_s"] * 1000),
            end_ms=round(entry["end_s"] * 1000),
            phrase=entry["phrase"],
            kind=entry["kind"],
            phase=entry["phase"],
        )


@dataclass(frozen=True, slots=True)
class Score:
    """What became of the spoken marks."""

    found: tuple[Mark, ...]
    missed: tuple[Spoken, ...]
    false: tuple[Mark, ...]
    wrong_phase: tuple[Mark, ...]
    """Found, but stamped with another phase than the truth says."""


def score(marks: Iterable[Mark], truth: Iterable[Spoken]) -> Score:
    """Return how the heard marks among `marks` agree with `truth`.

    Each spoken mark takes the nearest mark of its kind and phrase within `TOLERANCE_MS`; what is left
    over on either side was missed or false. Marks that were undone in the lesson were heard all the
    same; marks from keys, page and review are left out.
    """
    left = [mark for mark in marks if mark.source is Source.VOICE]
    found, missed, wrong_phase = [], [], []
    for spoken in truth:
        if spoken.kind not in set(Kind):
            continue
        own = [mark for mark in left if _agrees(mark, spoken)]
        if not own:
            missed.append(spoken)
            continue
        nearest = min(own, key=lambda mark: abs(mark.at_ms - spoken.begin_ms))
        left.remove(nearest)
        found.append(nearest)
        if nearest.stamped_phase != spoken.phase:
            wrong_phase.append(nearest)
    return Score(tuple(found), tuple(missed), tuple(left), tuple(wrong_phase))


def _agrees(mark: Mark, spoken: Spoken) -> bool:
    return (
        mark.kind == spoken.kind
        and mark.phrase == spoken.phrase
        and abs(mark.at_ms - spoken.begin_ms) <= TOLERANCE_MS
    )
