"""What a session is: the fold over its events."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime

from companion.lesson import event as ev
from companion.lesson.mark import IndividualNote, Kind, Mark, MarkState, NearMiss, Source
from companion.lesson.plan import Plan
from companion.lesson.recognition import Level, level_for, next_level


@dataclass(frozen=True, slots=True)
class PhaseSpan:
    """A phase as it really ran. A phase may run more than once in a session."""

    name: str
    began_ms: int
    ended_ms: int | None
    """None while it is still going on."""
    source: Source = Source.KEY
    """What moved the lesson into it."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of the session in which nothing was heard, and why."""

    began_ms: int
    ended_ms: int | None
    reason: str


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
    carry_over_before: str = ""
    """What was to be said at the start of this session."""
    carry_over_said: bool = False
    phases: tuple[PhaseSpan, ...] = ()
    marks: tuple[Mark, ...] = ()
    """All marks in the order of `at_ms`, those that do not stand included."""
    near_misses: tuple[NearMiss, ...] = ()
    notes: tuple[IndividualNote, ...] = ()
    unheard: tuple[Stretch, ...] = ()
    """Stretches that were not heard though the companion should have listened."""
    pauses: tuple[Stretch, ...] = ()
    """Stretches in which the teacher had paused the listening."""
    vain_undos: int = 0
    """Undos with no mark standing."""
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
    steps: tuple[int, ...] = ()
    """Numbers of the review's events that can still be taken back, oldest first."""

    @property
    def standing(self) -> tuple[Mark, ...]:
        """The marks that count."""
        return tuple(mark for mark in self.marks if mark.state.stands)

    def count(self, kind: Kind) -> int:
        """Return how many marks of `kind` stand."""
        return sum(mark.kind is kind for mark in self.standing)

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
        """Name of the level that the class takes home, or None below the lowest."""
        if self.overruled is not None:
            return self.overruled.level
        level = level_for(self.levels, self.margin)
        return level.name if level else None

    @property
    def next_level(self) -> Level | None:
        """The lowest level that the margin does not reach yet."""
        return next_level(self.levels, self.margin)

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


def span_at(phases: Iterable[PhaseSpan], at_ms: int) -> int | None:
    """Return the index of the last phase that had begun by `at_ms`, or None before the first."""
    found = None
    for index, span in enumerate(phases):
        if span.began_ms <= at_ms:
            found = index
    return found


def fold(events: Iterable[ev.Event]) -> Session:
    """Return the session that `events` tell.

    events: all events of one session in the order of their sequence numbers, the first of them
    `SessionOpened`.

    Raises ValueError if there is no such first event. An event about a mark, near miss or note that is
    not there changes nothing: a log that was cut short still folds.
    """
    told = list(events)
    if not told or not isinstance(told[0].body, ev.SessionOpened):
        msg = "a session begins with the event that opens it"
        raise ValueError(msg)
    draft = _Draft()
    taken_back = _taken_back(told)
    for event in told:
        if event.seq not in taken_back:
            draft.take(event)
    return draft.session(told, told[0].body, taken_back)


def _taken_back(events: list[ev.Event]) -> frozenset[int]:
    steps = {event.seq for event in events if isinstance(event.body, ev.TAKES_BACK)}
    asked = {event.body.taken_back for event in events if isinstance(event.body, ev.EventTakenBack)}
    return frozenset(steps & asked)


@dataclass(slots=True)
class _Draft:
    """The session while its events are still being taken in.

    Marks carry no phase until the end: a phase's beginning may be recorded after a mark that it already
    covers, since a spoken phrase is dated back to where it began.
    """

    named: ev.ClassGroupNamed | None = None
    plan: Plan | None = None
    """Another plan than the session was opened with."""
    phases: list[PhaseSpan] = field(default_factory=list)
    marks: dict[str, Mark] = field(default_factory=dict)
    moved: dict[str, str] = field(default_factory=dict)
    near_misses: dict[str, NearMiss] = field(default_factory=dict)
    notes: dict[str, IndividualNote] = field(default_factory=dict)
    unheard: list[Stretch] = field(default_factory=list)
    pauses: list[Stretch] = field(default_factory=list)
    vain_undos: int = 0
    self_rating: SelfRating | None = None
    teacher_view: str = ""
    carry_over: str = ""
    carry_over_said: bool = False
    overruled: Overruling | None = None
    closed_ms: int | None = None
    settled: bool = False
    reopened_for: list[str] = field(default_factory=list)

    def take(self, event: ev.Event) -> None:  # noqa: PLR0912, PLR0915 - one case a kind of event
        match event.body:
            case ev.ClassGroupNamed() as body:
                self.named = body
                self.plan = body.plan or self.plan
            case ev.PhaseBegan(phase=phase, at_ms=at_ms, source=source):
                self.phases.append(PhaseSpan(phase, at_ms, None, source))
            case ev.MarkMade() as body:
                self._make(f"m{event.seq}", body)
            case ev.MarkDoubled(mark=mark, source=source) if mark in self.marks:
                doubled = self.marks[mark]
                self.marks[mark] = replace(doubled, doubled_by=(*doubled.doubled_by, source))
            case ev.NearMissHeard() as body:
                self._hear(f"c{event.seq}", body)
            case ev.UndoAsked():
                self._undo()
            case ev.NoteOpened(kind=kind, at_ms=at_ms, source=source):
                note = f"n{event.seq}"
                self.notes[note] = IndividualNote(note, at_ms, "", kind, source)
            case ev.NoteCompleted() as body if body.note in self.notes:
                self.notes[body.note] = replace(
                    self.notes[body.note],
                    child=body.child,
                    kind=body.kind,
                    line=body.line,
                    contact=body.contact,
                )
            case ev.NoteDropped(note=note):
                self.notes.pop(note, None)
            case ev.ListeningPaused(at_ms=at_ms):
                _begin(self.pauses, at_ms, "paused")
            case ev.ListeningResumed(at_ms=at_ms):
                _end(self.pauses, at_ms)
            case ev.HearingLost(at_ms=at_ms, reason=reason):
                _begin(self.unheard, at_ms, reason)
            case ev.HearingRegained(at_ms=at_ms):
                _end(self.unheard, at_ms)
            case ev.CompanionRestarted(last_ms=last_ms, at_ms=at_ms):
                _end(self.unheard, last_ms)
                self.unheard.append(Stretch(last_ms, at_ms, "the companion was not running"))
            case ev.SessionClosed(at_ms=at_ms):
                self.closed_ms = at_ms
                _end(self.unheard, at_ms)
                _end(self.pauses, at_ms)
            case ev.MarkKept(mark=mark):
                self._set_state(mark, MarkState.KEPT)
            case ev.MarkChanged() as body:
                self._change(body)
            case ev.MarkDropped(mark=mark):
                self._set_state(mark, MarkState.DROPPED)
            case ev.MarkRestored(mark=mark):
                self._set_state(mark, MarkState.KEPT)
            case ev.MarkAdded() as body:
                self._add(f"m{event.seq}", body)
            case ev.NearMissConfirmed() as body:
                self._confirm(f"m{event.seq}", body)
            case ev.NearMissDismissed(near_miss=miss) if miss in self.near_misses:
                self.near_misses[miss] = replace(self.near_misses[miss], answered=True)
            case ev.SelfRated(rating=rating, hands=hands):
                self.self_rating = SelfRating(rating, hands)
            case ev.TeacherViewed(text=text):
                self.teacher_view = text
            case ev.RecognitionOverruled(level=level, reason=reason):
                self.overruled = Overruling(level, reason)
            case ev.CarryOverWritten(text=text):
                self.carry_over = text
            case ev.CarryOverSaid():
                self.carry_over_said = True
            case ev.SessionSettled():
                self.settled = True
            case ev.SessionReopened(reason=reason):
                self.settled = False
                self.reopened_for.append(reason)

    def _make(self, mark: str, body: ev.MarkMade) -> None:
        self.marks[mark] = Mark(
            id=mark,
            at_ms=body.at_ms,
            phase="",
            kind=body.kind,
            scope=body.scope,
            source=body.source,
            state=MarkState.UNREVIEWED,
            stamped_phase="",
            routine=body.routine,
            phrase=body.phrase,
            confidence=body.confidence,
            engine=body.engine,
            reasons=body.reasons,
        )

    def _hear(self, near_miss: str, body: ev.NearMissHeard) -> None:
        self.near_misses[near_miss] = NearMiss(
            id=near_miss,
            at_ms=body.at_ms,
            phase="",
            phrase=body.phrase,
            confidence=body.confidence,
            kind=body.command.kind,
            scope=body.command.scope,
            engine=body.engine,
            reasons=body.reasons,
        )

    def _undo(self) -> None:
        for mark in reversed(self.marks.values()):
            if mark.state.stands:
                self._set_state(mark.id, MarkState.UNDONE)
                return
        self.vain_undos += 1

    def _set_state(self, mark: str, state: MarkState) -> None:
        if mark in self.marks:
            self.marks[mark] = replace(self.marks[mark], state=state)

    def _change(self, body: ev.MarkChanged) -> None:
        mark = self.marks.get(body.mark)
        if mark is None:
            return
        self.marks[body.mark] = replace(
            mark,
            kind=body.kind or mark.kind,
            scope=body.scope or mark.scope,
            routine=mark.routine if body.routine is None else body.routine or None,
            state=MarkState.CHANGED,
        )
        if body.phase is not None:
            self.moved[body.mark] = body.phase

    def _add(self, mark: str, body: ev.MarkAdded) -> None:
        began = next((span.began_ms for span in self.phases if span.name == body.phase), 0)
        self.moved[mark] = body.phase
        self.marks[mark] = Mark(
            id=mark,
            at_ms=began if body.at_ms is None else body.at_ms,
            phase="",
            kind=body.kind,
            scope=body.scope,
            source=Source.REVIEW,
            state=MarkState.ADDED,
            stamped_phase="",
            routine=body.routine,
        )

    def _confirm(self, mark: str, body: ev.NearMissConfirmed) -> None:
        miss = self.near_misses.get(body.near_miss)
        if miss is None or miss.answered:
            return
        self.near_misses[miss.id] = replace(miss, answered=True)
        if body.phase is not None:
            self.moved[mark] = body.phase
        self.marks[mark] = Mark(
            id=mark,
            at_ms=miss.at_ms,
            phase="",
            kind=body.kind,
            scope=miss.scope,
            source=Source.VOICE,
            state=MarkState.CONFIRMED,
            stamped_phase="",
            phrase=miss.phrase,
            confidence=miss.confidence,
            engine=miss.engine,
            reasons=miss.reasons,
        )

    def session(
        self, events: list[ev.Event], opened: ev.SessionOpened, taken_back: frozenset[int]
    ) -> Session:
        phases = _spans(self.phases, self.closed_ms)

        def phase_at(at_ms: int) -> str:
            index = span_at(phases, at_ms)
            return "" if index is None else phases[index].name

        marks = [
            replace(
                mark,
                stamped_phase=phase_at(mark.at_ms),
                phase=self.moved.get(mark.id, phase_at(mark.at_ms)),
            )
            for mark in self.marks.values()
        ]
        steps = (
            event.seq
            for event in events
            if isinstance(event.body, ev.TAKES_BACK) and event.seq not in taken_back
        )
        return Session(
            id=events[0].session,
            class_group=(self.named or opened).class_group,
            plan=self.plan or opened.plan,
            opened_at=events[0].at,
            levels=opened.levels,
            tables=opened.tables,
            room=opened.room,
            engine=opened.engine,
            carry_over_before=(self.named or opened).carry_over,
            carry_over_said=self.carry_over_said,
            phases=phases,
            marks=tuple(sorted(marks, key=lambda mark: mark.at_ms)),
            near_misses=tuple(
                replace(miss, phase=phase_at(miss.at_ms)) for miss in self.near_misses.values()
            ),
            notes=tuple(replace(note, phase=phase_at(note.at_ms)) for note in self.notes.values()),
            unheard=tuple(self.unheard),
            pauses=tuple(self.pauses),
            vain_undos=self.vain_undos,
            self_rating=self.self_rating,
            teacher_view=self.teacher_view,
            carry_over=self.carry_over,
            overruled=self.overruled,
            closed_ms=self.closed_ms,
            settled=self.settled,
            reopened_for=tuple(self.reopened_for),
            last_seq=events[-1].seq,
            last_ms=max(event.offset_ms for event in events),
            steps=tuple(steps),
        )


def _begin(stretches: list[Stretch], at_ms: int, reason: str) -> None:
    if stretches and stretches[-1].ended_ms is None:
        return
    stretches.append(Stretch(at_ms, None, reason))


def _end(stretches: list[Stretch], at_ms: int) -> None:
    if stretches and stretches[-1].ended_ms is None:
        stretches[-1] = replace(stretches[-1], ended_ms=max(at_ms, stretches[-1].began_ms))


def _spans(beginnings: list[PhaseSpan], closed_ms: int | None) -> tuple[PhaseSpan, ...]:
    """Return the phases in the order of their beginnings, each ended by the next or by the close."""
    ordered = sorted(beginnings, key=lambda span: span.began_ms)
    ends = [span.began_ms for span in ordered[1:]] + [closed_ms]
    return tuple(
        replace(span, ended_ms=None if end is None else max(span.began_ms, end))
        for span, end in zip(ordered, ends, strict=False)
    )
