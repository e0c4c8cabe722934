"""The marks and near misses of a session while its events are still being taken in."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from companion.lesson import event as ev
from companion.lesson.mark import Mark, MarkState, NearMiss, Source
from companion.lesson.span import PhaseSpan, name_at


@dataclass(slots=True)
class MarkSheet:
    """What was marked so far.

    Marks carry no phase until the end: a phase's beginning may be recorded after a mark that it already
    covers, since a spoken phrase is dated back to where it began.
    """

    vain_undos: int = 0
    last_told: tuple[str, ...] = ()
    """What the class was told of last."""
    _marks: dict[str, Mark] = field(default_factory=dict)
    _moved: dict[str, str] = field(default_factory=dict)
    """Phases that the review gave to marks."""
    _near_misses: dict[str, NearMiss] = field(default_factory=dict)

    def take(self, event: ev.Event, phases: Iterable[PhaseSpan]) -> None:
        """Take in an event about marks or near misses; any other changes nothing.

        phases: those that have begun so far.
        """
        match event.body:
            case ev.MarkMade() as body:
                self._make(f"m{event.seq}", body)
            case ev.MarkDoubled(mark=mark, source=source) if mark in self._marks:
                doubled = self._marks[mark]
                self._marks[mark] = replace(doubled, doubled_by=(*doubled.doubled_by, source))
            case ev.NearMissHeard() as body:
                self._hear(f"c{event.seq}", body)
            case ev.UndoAsked():
                self._undo()
            case ev.MarksTold(marks=marks):
                self.last_told = marks
                for mark in self._marks.keys() & set(marks):
                    self._marks[mark] = replace(self._marks[mark], told=True)
            case ev.MarkKept(mark=mark) | ev.MarkRestored(mark=mark):
                self._set_state(mark, MarkState.KEPT)
            case ev.MarkChanged() as body:
                self._change(body)
            case ev.MarkDropped(mark=mark):
                self._set_state(mark, MarkState.DROPPED)
            case ev.MarkAdded() as body:
                self._add(f"m{event.seq}", body, phases)
            case ev.NearMissConfirmed() as body:
                self._confirm(f"m{event.seq}", body)
            case ev.NearMissDismissed(near_miss=miss) if miss in self._near_misses:
                self._near_misses[miss] = replace(self._near_misses[miss], answered=True)

    def marks(self, phases: tuple[PhaseSpan, ...]) -> tuple[Mark, ...]:
        """Return the marks in the order of `at_ms`, each in its phase. phases: in order."""
        stamped = [
            replace(
                mark,
                stamped_phase=name_at(phases, mark.at_ms),
                phase=self._moved.get(mark.id, name_at(phases, mark.at_ms)),
            )
            for mark in self._marks.values()
        ]
        return tuple(sorted(stamped, key=lambda mark: mark.at_ms))

    def near_misses(self, phases: tuple[PhaseSpan, ...]) -> tuple[NearMiss, ...]:
        """Return the near misses as they were heard, each in its phase. phases: in order."""
        return tuple(replace(miss, phase=name_at(phases, miss.at_ms)) for miss in self._near_misses.values())

    def _make(self, mark: str, body: ev.MarkMade) -> None:
        self._marks[mark] = Mark(
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
            told=not body.held,
        )

    def _hear(self, near_miss: str, body: ev.NearMissHeard) -> None:
        self._near_misses[near_miss] = NearMiss(
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
            self._marks[mark] = replace(self._marks[mark], state=state)

    def _change(self, body: ev.MarkChanged) -> None:
        mark = self._marks.get(body.mark)
        if mark is None:
            return
        self._marks[body.mark] = replace(
            mark,
            kind=body.kind or mark.kind,
            scope=body.scope or mark.scope,
            routine=mark.routine if body.routine is None else body.routine or None,
            state=MarkState.CHANGED,
        )
        if body.phase is not None:
            self._moved[body.mark] = body.phase

    def _add(self, mark: str, body: ev.MarkAdded, phases: Iterable[PhaseSpan]) -> None:
        began = next((span.began_ms for span in phases if span.name == body.phase), 0)
        self._moved[mark] = body.phase
        self._marks[mark] = Mark(
            id=mark,
            at_ms=began if body.at_ms is None else body.at_ms,
            phase="",
            kind=body.kind,
            scope=body.scope,
            source=Source.REVIEW,
            state=MarkState.ADDED,
            stamped_phase="",
            routine=body.routine,
            told=False,
            why=body.why,
        )

    def _confirm(self, mark: str, body: ev.NearMissConfirmed) -> None:
        miss = self._near_misses.get(body.near_miss)
        if miss is None or miss.answered:
            return
        self._near_misses[miss.id] = replace(miss, answered=True)
        if body.phase is not None:
            self._moved[mark] = body.phase
        self._marks[mark] = Mark(
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
            told=False,
        )
