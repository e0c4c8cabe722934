"""The marks and near misses of a session while its events are still being taken in."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from operator import attrgetter

from companion.lesson import event as ev
from companion.lesson.mark import Kind, Mark, MarkState, Source
from companion.lesson.near_miss import NearMiss
from companion.lesson.span import PhaseSpan, name_at


@dataclass(slots=True)
class MarkSheet:
    """What was marked so far.

    A phase's beginning may be recorded after a mark that it already covers, since a spoken phrase is dated
    back to where it began: the mark moves into it then.
    """

    vain_undos: int = 0
    last_told: tuple[str, ...] = ()
    """What the class was told of last."""
    _marks: dict[str, Mark] = field(default_factory=dict)
    _moved: dict[str, str] = field(default_factory=dict)
    """Phases that the review gave to marks."""
    _near_misses: dict[str, NearMiss] = field(default_factory=dict)
    _tally: Counter[tuple[str, str, Kind]] = field(default_factory=Counter)

    def copy(self) -> "MarkSheet":
        """Return a sheet that goes on and leaves this one as it is."""
        return replace(
            self,
            _marks=self._marks.copy(),
            _moved=self._moved.copy(),
            _near_misses=self._near_misses.copy(),
            _tally=self._tally.copy(),
        )

    def take(self, event: ev.Event, phases: Sequence[PhaseSpan]) -> None:
        """Take in an event about marks or near misses; any other changes nothing.

        phases: those that have begun so far, in order.
        """
        made = event.made or ""
        match event.body:
            case ev.MarkMade() as body:
                self._make(made, body, phases)
            case ev.MarkDoubled(mark=mark, source=source) if mark in self._marks:
                doubled = self._marks[mark]
                self._put(replace(doubled, doubled_by=(*doubled.doubled_by, source)))
            case ev.NearMissHeard() as body:
                self._hear(made, body, phases)
            case ev.UndoAsked():
                self._undo()
            case ev.MarksTold(marks=marks):
                self.last_told = marks
                for mark in self._marks.keys() & set(marks):
                    self._put(replace(self._marks[mark], told=True))
            case ev.MarkKept(mark=mark) | ev.MarkRestored(mark=mark):
                self._set_state(mark, MarkState.KEPT)
            case ev.MarkChanged() as body:
                self._change(body)
            case ev.MarkDropped(mark=mark):
                self._set_state(mark, MarkState.DROPPED)
            case ev.MarkAdded() as body:
                self._add(made, body, phases)
            case ev.NearMissConfirmed() as body:
                self._confirm(made, body, phases)
            case ev.NearMissDismissed(near_miss=miss) if miss in self._near_misses:
                self._near_misses[miss] = replace(self._near_misses[miss], answered=True)

    def move(self, phases: Sequence[PhaseSpan], from_ms: int) -> None:
        """Put what was made or heard from `from_ms` on, where a phase begins, into its phase."""
        for mark in [mark for mark in self._marks.values() if mark.at_ms >= from_ms]:
            self._put(replace(mark, stamped_phase=name_at(phases, mark.at_ms)))
        for miss in [miss for miss in self._near_misses.values() if miss.at_ms >= from_ms]:
            self._near_misses[miss.id] = replace(miss, phase=name_at(phases, miss.at_ms))

    @property
    def marks(self) -> tuple[Mark, ...]:
        """The marks in the order of `at_ms`."""
        return tuple(sorted(self._marks.values(), key=attrgetter("at_ms")))

    def near_miss(self, near_miss: str) -> NearMiss | None:
        """Return a near miss that nobody has answered."""
        found = self._near_misses.get(near_miss)
        return None if found is None or found.answered else found

    @property
    def near_misses(self) -> tuple[NearMiss, ...]:
        """The near misses as they were heard."""
        return tuple(self._near_misses.values())

    @property
    def tally(self) -> tuple[tuple[str, str, Kind, int], ...]:
        """How many marks stand, by phase, routine and kind."""
        return tuple(sorted((*of, number) for of, number in self._tally.items() if number))

    def _put(self, mark: Mark) -> None:
        """Put `mark` in the place of the one of its name, if there is one, and into its phase."""
        if before := self._marks.get(mark.id):
            self._count(before, -1)
        placed = replace(mark, phase=self._moved.get(mark.id, mark.stamped_phase))
        self._marks[mark.id] = placed
        self._count(placed, 1)

    def _count(self, mark: Mark, change: int) -> None:
        if mark.state.stands:
            self._tally[mark.phase, mark.routine or "", mark.kind] += change

    def _make(self, mark: str, body: ev.MarkMade, phases: Sequence[PhaseSpan]) -> None:
        made = Mark(
            id=mark,
            at_ms=body.at_ms,
            phase="",
            kind=body.kind,
            scope=body.scope,
            source=body.source,
            state=MarkState.UNREVIEWED,
            stamped_phase=name_at(phases, body.at_ms),
            routine=body.routine,
            phrase=body.phrase,
            confidence=body.confidence,
            engine=body.engine,
            reasons=body.reasons,
            told=not body.held,
        )
        self._put(made)

    def _hear(self, near_miss: str, body: ev.NearMissHeard, phases: Sequence[PhaseSpan]) -> None:
        self._near_misses[near_miss] = NearMiss(
            id=near_miss,
            at_ms=body.at_ms,
            phase=name_at(phases, body.at_ms),
            phrase=body.phrase,
            confidence=body.confidence,
            command=body.command,
            engine=body.engine,
            reasons=body.reasons,
        )

    def undo(self, mark: str) -> None:
        """Take back the mark `mark`."""
        self._set_state(mark, MarkState.UNDONE)

    def _undo(self) -> None:
        for mark in reversed(self._marks.values()):
            if mark.state.stands:
                self._set_state(mark.id, MarkState.UNDONE)
                return
        self.vain_undos += 1

    def _set_state(self, mark: str, state: MarkState) -> None:
        if mark in self._marks:
            self._put(replace(self._marks[mark], state=state))

    def _change(self, body: ev.MarkChanged) -> None:
        mark = self._marks.get(body.mark)
        if mark is None:
            return
        if body.phase is not None:
            self._moved[body.mark] = body.phase
        changed = replace(
            mark,
            kind=body.kind or mark.kind,
            scope=body.scope or mark.scope,
            routine=mark.routine if body.routine is None else body.routine or None,
            state=MarkState.CHANGED,
        )
        self._put(changed)

    def _add(self, mark: str, body: ev.MarkAdded, phases: Sequence[PhaseSpan]) -> None:
        began = next((span.began_ms for span in phases if span.name == body.phase), 0)
        self._moved[mark] = body.phase
        at_ms = began if body.at_ms is None else body.at_ms
        made = Mark(
            id=mark,
            at_ms=at_ms,
            phase="",
            kind=body.kind,
            scope=body.scope,
            source=Source.REVIEW,
            state=MarkState.ADDED,
            stamped_phase=name_at(phases, at_ms),
            routine=body.routine,
            told=False,
            why=body.why,
        )
        self._put(made)

    def _confirm(self, mark: str, body: ev.NearMissConfirmed, phases: Sequence[PhaseSpan]) -> None:
        miss = self._near_misses.get(body.near_miss)
        if miss is None or miss.answered:
            return
        self._near_misses[miss.id] = replace(miss, answered=True)
        if body.kind is None:
            return
        if body.phase is not None:
            self._moved[mark] = body.phase
        made = Mark(
            id=mark,
            at_ms=miss.at_ms,
            phase="",
            kind=body.kind,
            scope=miss.scope,
            source=Source.VOICE,
            state=MarkState.CONFIRMED,
            stamped_phase=name_at(phases, miss.at_ms),
            phrase=miss.phrase or None,
            confidence=miss.confidence,
            engine=miss.engine,
            reasons=miss.reasons,
            told=False,
        )
        self._put(made)
