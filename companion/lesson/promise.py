"""A family contact that was planned: due, kept, moved to another day, or dropped."""

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from companion.language import _, later_word
from companion.lesson.day_words import day_words, near_day


class PromiseState(StrEnum):
    """How far a promise is."""

    OPEN = later_word("promise", "open")
    KEPT = later_word("promise", "kept")
    DROPPED = later_word("promise", "dropped")


@dataclass(frozen=True, slots=True)
class Promise:
    """What was promised in an individual note; private, as the note is."""

    note: str
    """Id of the individual note, unique within its session."""
    child: str
    by: str
    how: str
    due: date | None
    """None where only words say when."""
    words: str = ""
    """When, in the teacher's words, beside the day or in its place."""
    state: PromiseState = PromiseState.OPEN
    on: date | None = None
    """The day on which it was kept."""
    line: str = ""
    """What came of it, or why it was dropped."""
    tell: bool = False
    """Whether a kept promise stands on the class's next hand-off note."""
    done_at: datetime | None = field(default=None, compare=False)
    """When it was recorded as kept or dropped, on the wall."""

    def overdue(self, today: date) -> bool:
        """Return whether the day has passed and the promise is still open."""
        return self.state is PromiseState.OPEN and self.due is not None and self.due < today


def due_words(due: date | None, words: str, today: date | None = None) -> str:
    """Return when a family will be contacted, by day and in the teacher's words: `by Friday 18 September`.

    today: from when it is looked at; a day that is far from it is told with its year.
    """
    day = _("by {day}", day=near_day(due, today or due)) if due else ""
    return ", ".join(part for part in (day, words) if part)


def promise_words(promise: Promise, today: date) -> str:
    """Return a promise as a line: `K. T.: the teacher, phone, by Friday 18 September`."""
    when = due_words(promise.due, promise.words, today)
    said = ", ".join(part for part in (_(promise.by), _(promise.how), when) if part)
    return f"{promise.child}: {said}"


def kept_words(promise: Promise) -> str:
    """Return a kept promise as it stands on the class's next hand-off note."""
    told = {
        "child": promise.child,
        "day": day_words(promise.on) if promise.on else "",
        "line": promise.line.rstrip("."),
    }
    if promise.on and promise.line:
        return _("{child}: the family was contacted on {day}: {line}.", **told)
    if promise.on:
        return _("{child}: the family was contacted on {day}.", **told)
    if promise.line:
        return _("{child}: the family was contacted: {line}.", **told)
    return _("{child}: the family was contacted.", **told)
