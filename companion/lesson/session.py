"""What a session is, as its events tell it so far (`companion.lesson.fold`)."""

from dataclasses import dataclass, field
from datetime import datetime

from companion.lesson.aftercare import HandOver, RoutineTaughtAgain
from companion.lesson.award import AwardBack, AwardOut
from companion.lesson.carry_over import CarriedOver, CarryOverAnswer
from companion.lesson.event import Event, LastTakenBack
from companion.lesson.mark import IndividualNote, Kind, Mark, MarkState
from companion.lesson.near_miss import NearMiss
from companion.lesson.plan import Plan
from companion.lesson.promise import Promise
from companion.lesson.recognition import Level, level_for, next_level
from companion.lesson.span import PhaseSpan, Stretch, span_at


@dataclass(frozen=True, slots=True)
class Overruling:
    """The teacher's own level in place of the margin's, and why. A level of None: no recognition."""

    level: str | None
    reason: str


@dataclass(frozen=True, slots=True)
class SelfRating:
    """The class's own rating; `hands` counts hands for went well, so-so, needs work."""

    rating: str
    hands: tuple[int, int, int] | None = None


@dataclass(frozen=True, slots=True)
class Session:
    """One lesson of one class group, as its events tell it so far."""

    id: str
    class_group: str
    """As it was named last."""
    plan: Plan
    opened_at: datetime
    levels: tuple[Level, ...] = ()
    tables: tuple[str, ...] = ()
    room: str = ""
    engine: str | None = None
    holds_marks: bool = False
    """Whether marks are held until the teacher tells the class."""
    waiting: tuple[CarriedOver, ...] = ()
    """What was to be said to the class when it came, oldest first."""
    lists_waiting: bool = True
    """Whether that is all that waited; sessions of older logs were opened with the newest only."""
    answers: tuple[CarryOverAnswer, ...] = ()
    """What became of carry-overs in this session, of whichever session they are."""
    phases: tuple[PhaseSpan, ...] = ()
    marks: tuple[Mark, ...] = ()
    """All marks in the order of `at_ms`, those that do not stand included."""
    tally: tuple[tuple[str, str, Kind, int], ...] = ()
    """How many marks stand: phase, routine ("" where none was named), kind and number."""
    near_misses: tuple[NearMiss, ...] = ()
    notes: tuple[IndividualNote, ...] = ()
    unheard: tuple[Stretch, ...] = ()
    """Stretches that were not heard though the companion should have listened."""
    pauses: tuple[Stretch, ...] = ()
    """Stretches in which the teacher had paused the listening."""
    vain_undos: int = 0
    """Undos that changed nothing."""
    self_rating: SelfRating | None = None
    teacher_view: str = ""
    carry_over: str = ""
    """What the teacher will say at the start of this class group's next session."""
    overruled: Overruling | None = None
    closed_ms: int | None = None
    settled: bool = False
    reopened_for: tuple[str, ...] = ()
    last_seq: int = 0
    last_ms: int = 0
    last_told: tuple[str, ...] = ()
    """The marks that the class was told of last, after they had been held."""
    promises: tuple[Promise, ...] = ()
    """The family contacts that were planned, as they stand; private."""
    award: AwardOut | None = None
    brought_back: tuple[AwardBack, ...] = ()
    """The object that went home with the recognition."""
    taught_again: tuple[RoutineTaughtAgain, ...] = ()
    by_guest: bool = False
    """Whether a guest taught it."""
    handed_over: HandOver | None = None
    """How the hand-off note was handed over last."""
    changed_since_handed_over: bool = False
    """Whether the note says something else by now."""
    done: tuple[Event, ...] = field(default=(), compare=False)
    """What undo could take back, oldest first (`companion.lesson.undo`)."""
    taken_back: tuple[Event, ...] = field(default=(), compare=False)
    """The step that undo took back last."""
    undone: LastTakenBack | None = None
    """The undo after which nothing else was done; None if something was."""
    steps: tuple[tuple[int, ...], ...] = ()
    """The review's steps that can still be taken back, oldest first: each the numbers of its events."""

    @property
    def standing(self) -> tuple[Mark, ...]:
        """The marks that count."""
        return tuple(mark for mark in self.marks if mark.state.stands)

    def count(self, kind: Kind) -> int:
        """Return how many marks of `kind` stand."""
        return sum(number for _, _, of, number in self.tally if of is kind)

    @property
    def praise(self) -> int:
        """Number of praises that stand."""
        return self.count(Kind.PRAISE)

    @property
    def reminder(self) -> int:
        """Number of reminders that stand."""
        return self.count(Kind.REMINDER)

    @property
    def margin(self) -> int:
        """Praise minus reminders."""
        return self.praise - self.reminder

    @property
    def recognition(self) -> str | None:
        """Name of the level that the class takes home, or None below the lowest and without any mark."""
        if self.overruled is not None:
            return self.overruled.level
        if not self.tally:
            return None
        level = level_for(self.levels, self.margin)
        return level.name if level else None

    @property
    def next_level(self) -> Level | None:
        """The lowest level that the margin does not reach yet."""
        if not self.tally:
            # The first praise reaches it, also where a margin of zero would do.
            return level_for(self.levels, 1) or next_level(self.levels, 1)
        return next_level(self.levels, self.margin)

    @property
    def untold(self) -> tuple[Mark, ...]:
        """The standing marks that the class was not told of; none once the count is settled with it."""
        return () if self.settled else tuple(mark for mark in self.standing if not mark.told)

    @property
    def to_say(self) -> tuple[CarriedOver, ...]:
        """What waited for the class and was neither said nor answered in this session."""
        answered = {answer.origin for answer in self.answers}
        return tuple(one for one in self.waiting if one.origin not in answered)

    @property
    def carry_over_before(self) -> str:
        """All that was to be said to the class when it came, in one line."""
        return " ".join(one.text for one in self.waiting)

    @property
    def carry_over_said(self) -> bool:
        """Whether nothing of it is left to say."""
        return bool(self.waiting) and not self.to_say

    @property
    def phase(self) -> PhaseSpan | None:
        """The phase that the lesson is in, or was in last."""
        return self.phases[-1] if self.phases else None

    @property
    def phase_names(self) -> tuple[str, ...]:
        """Names of the plan's phases and of those that ran under another plan before."""
        planned = (phase.name for phase in self.plan)
        return tuple(dict.fromkeys((*planned, *(span.name for span in self.phases))))

    @property
    def paused(self) -> bool:
        """Whether the teacher has paused the listening."""
        return bool(self.pauses) and self.pauses[-1].ended_ms is None

    @property
    def closed(self) -> bool:
        """Whether the lesson is over and only the review is left."""
        return self.closed_ms is not None

    @property
    def unreviewed(self) -> tuple[Mark, ...]:
        """The standing marks that the review has not looked at."""
        return tuple(mark for mark in self.marks if mark.state is MarkState.UNREVIEWED)

    def mark(self, mark_id: str) -> Mark | None:
        """Return the mark `mark_id`, or None if there is none."""
        return next((mark for mark in self.marks if mark.id == mark_id), None)

    def near_miss(self, near_miss_id: str) -> NearMiss | None:
        """Return the near miss `near_miss_id`, or None if there is none."""
        return next((miss for miss in self.near_misses if miss.id == near_miss_id), None)

    def note(self, note_id: str) -> IndividualNote | None:
        """Return the individual note `note_id`, or None if there is none."""
        return next((note for note in self.notes if note.id == note_id), None)

    def span_at(self, at_ms: int) -> int | None:
        """Return the index in `phases` of the phase in force at `at_ms`, or None before the first."""
        return span_at(self.phases, at_ms)
