"""The fold: from the events of a session to what the session is."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from companion.language import later
from companion.lesson import event as ev
from companion.lesson import undo
from companion.lesson.care_sheet import CareSheet
from companion.lesson.command import Action
from companion.lesson.mark import IndividualNote, NoteKind, Source
from companion.lesson.mark_sheet import MarkSheet
from companion.lesson.plan import Plan
from companion.lesson.session import Overruling, SelfRating, Session
from companion.lesson.span import (
    PhaseSpan,
    Stretch,
    begin_stretch,
    end_stretch,
    name_at,
    put_in_order,
    spans_of,
)


def fold(events: Iterable[ev.Event]) -> Session:
    """Return the session that `events` tell.

    events: all events of one session in the order of their sequence numbers, the first of them
    `SessionOpened`.

    Raises ValueError if there is no such first event. An event about a mark, near miss or note that is
    not there changes nothing: a log that was cut short still folds.
    """
    return tell(events).session


def tell(events: Iterable[ev.Event]) -> "Telling":
    """Return the session that `events` tell, ready to go on. Raises ValueError as `fold` does."""
    told = tuple(events)
    if not told or not isinstance(told[0].body, ev.SessionOpened):
        msg = "a session begins with the event that opens it"
        raise ValueError(msg)
    by_review = (
        event.body.taken_back
        for event in told
        if isinstance(event.body, ev.EventTakenBack) and event.body.taken_back < event.seq
    )
    draft = _Draft(told[0], told[0].body, frozenset(by_review), _undone(told, *told))
    for event in told:
        draft.go_on(event)
    return Telling(draft.session(), told, draft)


@dataclass(frozen=True, slots=True)
class Telling:
    """A session as far as it is told, which goes on without being folded from its beginning."""

    session: Session
    events: tuple[ev.Event, ...]
    _draft: "_Draft"

    def go_on(self, event: ev.Event) -> "Telling":
        """Return the telling with one more event; its session is `fold((*events, event))`."""
        events = (*self.events, event)
        undone = _undone(self.events, event)
        lasting = all(isinstance(step.body, undo.LASTING) for step in undone.values())
        if isinstance(event.body, ev.EventTakenBack) or not lasting:
            # It changes what was told before.
            return tell(events)
        draft = self._draft.copy()
        if undone:
            draft.by_undo = draft.by_undo | undone
            draft.done = tuple(step for step in draft.done if step.seq not in undone)
        draft.go_on(event)
        return Telling(draft.session(), events, draft)


def _undone(told: tuple[ev.Event, ...], *by: ev.Event) -> dict[int, ev.Event]:
    """Return those of `told` that the events `by` take back by undo, by their numbers."""
    asked = {
        seq
        for event in by
        if isinstance(event.body, ev.LastTakenBack)
        for seq in event.body.taken_back
        if seq < event.seq
    }
    if not asked:
        return {}
    return {event.seq: event for event in told if event.seq in asked and isinstance(event.body, undo.STEPS)}


@dataclass(slots=True)
class _Draft:
    """The session while its events are still being taken in."""

    opening: ev.Event
    opened: ev.SessionOpened
    by_review: frozenset[int]
    """Numbers of the events that the review took back, those among them that are its own steps."""
    by_undo: dict[int, ev.Event]
    """The events that undo took back, by their numbers."""
    last_seq: int = 0
    last_ms: int = 0
    steps: dict[str, tuple[int, ...]] = field(default_factory=dict)
    done: tuple[ev.Event, ...] = ()
    begun: bool = False
    """Whether the lesson was in a phase already, be it one that was taken back."""
    named: ev.ClassGroupNamed | None = None
    plan: Plan | None = None
    """Another plan than the session was opened with."""
    phases: list[PhaseSpan] = field(default_factory=list)
    """In the order of their beginnings."""
    sheet: MarkSheet = field(default_factory=MarkSheet)
    notes: dict[str, IndividualNote] = field(default_factory=dict)
    unheard: list[Stretch] = field(default_factory=list)
    pauses: list[Stretch] = field(default_factory=list)
    self_rating: SelfRating | None = None
    teacher_view: str = ""
    carry_over: str = ""
    care: CareSheet = field(default_factory=CareSheet)
    overruled: Overruling | None = None
    closed_ms: int | None = None
    settled: bool = False
    reopened_for: list[str] = field(default_factory=list)

    last_taken_back: tuple[ev.Event, ...] = ()
    undone: ev.LastTakenBack | None = None

    def copy(self) -> "_Draft":
        """Return a draft that goes on and leaves this one as it is."""
        return replace(
            self,
            steps=self.steps.copy(),
            phases=self.phases.copy(),
            sheet=self.sheet.copy(),
            notes=self.notes.copy(),
            unheard=self.unheard.copy(),
            pauses=self.pauses.copy(),
            care=self.care.copy(),
            reopened_for=self.reopened_for.copy(),
        )

    def go_on(self, event: ev.Event) -> None:
        """Take in the next event, as far as it was not taken back."""
        self.last_seq = event.seq
        self.last_ms = max(self.last_ms, event.offset_ms)
        by_review = isinstance(event.body, ev.TAKES_BACK) and event.seq in self.by_review
        if not by_review and event.seq not in self.by_undo:
            self.done = undo.steps_after(self.done, event, begun=self.begun)
            if self.done[-1:] == (event,):
                self.undone = None
            if isinstance(event.body, ev.TAKES_BACK):
                self.steps[event.step] = (*self.steps.get(event.step, ()), event.seq)
        self.begun = self.begun or isinstance(event.body, ev.PhaseBegan)
        if isinstance(event.body, ev.LastTakenBack):
            self.undone = event.body
            self.take_back(event.body)
        elif not by_review and (event.seq not in self.by_undo or isinstance(event.body, undo.LASTING)):
            self.take(event)

    def take(self, event: ev.Event) -> None:  # noqa: PLR0912 - one case a kind of event
        self.care.take(event)
        match event.body:
            case ev.ClassGroupNamed() as body:
                self.named = body
                self.plan = body.plan or self.plan
            case ev.PhaseBegan(phase=phase, at_ms=at_ms, source=source):
                put_in_order(self.phases, PhaseSpan(phase, at_ms, None, source))
                self.sheet.move(self.phases, at_ms)
                self._move_notes(at_ms)
            case ev.NoteOpened() | ev.NoteCompleted() | ev.NoteDropped() | ev.NoteForgotten():
                self._take_note(event)
            case ev.ListeningPaused(at_ms=at_ms):
                begin_stretch(self.pauses, at_ms, "paused")
            case ev.ListeningResumed(at_ms=at_ms):
                end_stretch(self.pauses, at_ms)
            case ev.HearingLost(at_ms=at_ms, reason=reason):
                begin_stretch(self.unheard, at_ms, reason)
            case ev.HearingRegained(at_ms=at_ms):
                end_stretch(self.unheard, at_ms)
            case ev.CompanionRestarted(last_ms=last_ms, at_ms=at_ms):
                end_stretch(self.unheard, last_ms)
                self.unheard.append(Stretch(last_ms, at_ms, later("the companion was not running")))
            case ev.SessionClosed(at_ms=at_ms):
                self.closed_ms = at_ms
                end_stretch(self.unheard, at_ms)
                end_stretch(self.pauses, at_ms)
            case ev.SelfRated(rating=rating, hands=hands):
                self.self_rating = SelfRating(rating, hands)
            case ev.TeacherViewed(text=text):
                self.teacher_view = text
            case ev.RecognitionOverruled(level=level, reason=reason):
                self.overruled = Overruling(level, reason)
            case ev.CarryOverWritten(text=text):
                self.carry_over = text
            case ev.SessionSettled():
                self.settled = True
                self.last_taken_back = ()
            case ev.SessionReopened(reason=reason):
                self.settled = False
                self.reopened_for.append(reason)
            case ev.NearMissConfirmed(kind=None) as body:
                self._confirm(event, body)
            case _:
                self.sheet.take(event, self.phases)

    def _confirm(self, event: ev.Event, body: ev.NearMissConfirmed) -> None:
        """Let a near miss of a phrase that makes no mark do what it asked for."""
        miss = self.sheet.near_miss(body.near_miss)
        self.sheet.take(event, self.phases)
        if miss is None or miss.answered:
            return
        if miss.command is not None and miss.command.action is Action.NOTE:
            note, kind = f"n{event.seq}", miss.command.note or NoteKind.OTHER
            self.notes[note] = IndividualNote(note, miss.at_ms, miss.phase, kind, Source.VOICE)
        elif body.phase is not None:
            put_in_order(self.phases, PhaseSpan(body.phase, miss.at_ms, None, Source.VOICE))
            self.sheet.move(self.phases, miss.at_ms)
            self._move_notes(miss.at_ms)

    def take_back(self, body: ev.LastTakenBack) -> None:
        """Take back what lasts of that which `body` takes back; the others were never taken in."""
        events = [self.by_undo[seq] for seq in body.taken_back if seq in self.by_undo]
        self.last_taken_back = tuple(events) or self.last_taken_back
        if not body.taken_back or any(isinstance(event.body, ev.AskedAgain) for event in events):
            self.sheet.vain_undos += 1
        for event in events:
            match event.body:
                case ev.MarkMade():
                    self.sheet.undo(event.made or "")
                case ev.ListeningPaused():
                    end_stretch(self.pauses, body.at_ms)
                case ev.ListeningResumed():
                    begin_stretch(self.pauses, body.at_ms, "paused")
                case ev.SessionClosed(at_ms=at_ms):
                    end_stretch(self.unheard, at_ms)
                    self.unheard.append(
                        Stretch(at_ms, max(at_ms, body.at_ms), later("the lesson had been ended"))
                    )

    def _take_note(self, event: ev.Event) -> None:
        match event.body:
            case ev.NoteOpened(kind=kind, at_ms=at_ms, source=source):
                note = event.made or ""
                self.notes[note] = IndividualNote(note, at_ms, name_at(self.phases, at_ms), kind, source)
            case ev.NoteCompleted() as body if body.note in self.notes:
                self.notes[body.note] = replace(
                    self.notes[body.note],
                    child=body.child,
                    kind=body.kind,
                    line=body.line,
                    contact=body.contact,
                )
            case ev.NoteDropped(note=note) | ev.NoteForgotten(note=note):
                self.notes.pop(note, None)

    def _move_notes(self, at_ms: int) -> None:
        """Put the notes from `at_ms` on into the phase that begins there."""
        for note in [note for note in self.notes.values() if note.at_ms >= at_ms]:
            self.notes[note.id] = replace(note, phase=name_at(self.phases, note.at_ms))

    def session(self) -> Session:
        """Return the session as it is by now."""
        opened = self.opened
        return Session(
            id=self.opening.session,
            class_group=(self.named or opened).class_group,
            plan=self.plan or opened.plan,
            opened_at=self.opening.at,
            levels=opened.levels,
            tables=opened.tables,
            room=opened.room,
            engine=opened.engine,
            holds_marks=opened.holds_marks,
            waiting=self.care.waiting,
            lists_waiting=opened.waiting is not None,
            answers=tuple(self.care.answers),
            phases=spans_of(self.phases, self.closed_ms),
            marks=self.sheet.marks,
            tally=self.sheet.tally,
            near_misses=self.sheet.near_misses,
            notes=tuple(self.notes.values()),
            unheard=tuple(self.unheard),
            pauses=tuple(self.pauses),
            vain_undos=self.sheet.vain_undos,
            self_rating=self.self_rating,
            teacher_view=self.teacher_view,
            carry_over=self.carry_over,
            overruled=self.overruled,
            closed_ms=self.closed_ms,
            settled=self.settled,
            reopened_for=tuple(self.reopened_for),
            last_seq=self.last_seq,
            last_ms=self.last_ms,
            last_told=self.sheet.last_told,
            promises=self.care.promises(self.notes.values()),
            award=self.care.award,
            brought_back=tuple(self.care.brought_back),
            taught_again=tuple(self.care.taught_again),
            by_guest=self.care.by_guest,
            handed_over=self.care.handed_over,
            changed_since_handed_over=self.care.changed_since,
            done=self.done,
            taken_back=self.last_taken_back,
            undone=self.undone,
            steps=tuple(self.steps.values()),
        )
