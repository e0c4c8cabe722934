"""The fold: from the events of a session to what the session is."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field, replace

from companion.lesson import event as ev
from companion.lesson import undo
from companion.lesson.care_sheet import CareSheet
from companion.lesson.mark import IndividualNote
from companion.lesson.mark_sheet import MarkSheet
from companion.lesson.plan import Plan
from companion.lesson.session import Overruling, SelfRating, Session
from companion.lesson.span import PhaseSpan, Stretch, begin_stretch, end_stretch, name_at, spans_of


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
    by_review, by_undo = _taken_back(told), _undone(told)
    never_was = by_review | {
        seq for seq, event in by_undo.items() if not isinstance(event.body, undo.LASTING)
    }
    for event in told:
        if isinstance(event.body, ev.LastTakenBack):
            draft.take_back(event.body, [by_undo[seq] for seq in event.body.taken_back if seq in by_undo])
        elif event.seq not in never_was:
            draft.take(event)
    return draft.session(told, told[0].body, by_review | by_undo.keys())


def _taken_back(events: list[ev.Event]) -> frozenset[int]:
    steps = {event.seq for event in events if isinstance(event.body, ev.TAKES_BACK)}
    asked = {event.body.taken_back for event in events if isinstance(event.body, ev.EventTakenBack)}
    return frozenset(steps & asked)


def _undone(events: list[ev.Event]) -> dict[int, ev.Event]:
    """Return the events that undo took back, by their numbers."""
    asked = {
        seq
        for event in events
        if isinstance(event.body, ev.LastTakenBack)
        for seq in event.body.taken_back
        if seq < event.seq
    }
    return {event.seq: event for event in events if event.seq in asked and isinstance(event.body, undo.STEPS)}


@dataclass(slots=True)
class _Draft:
    """The session while its events are still being taken in."""

    named: ev.ClassGroupNamed | None = None
    plan: Plan | None = None
    """Another plan than the session was opened with."""
    phases: list[PhaseSpan] = field(default_factory=list)
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

    def take(self, event: ev.Event) -> None:  # noqa: PLR0912 - one case a kind of event
        self.care.take(event)
        match event.body:
            case ev.ClassGroupNamed() as body:
                self.named = body
                self.plan = body.plan or self.plan
            case ev.PhaseBegan(phase=phase, at_ms=at_ms, source=source):
                self.phases.append(PhaseSpan(phase, at_ms, None, source))
            case ev.NoteOpened() | ev.NoteCompleted() | ev.NoteDropped():
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
                self.unheard.append(Stretch(last_ms, at_ms, "the companion was not running"))
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
            case ev.SessionReopened(reason=reason):
                self.settled = False
                self.reopened_for.append(reason)
            case _:
                self.sheet.take(event, self.phases)

    def take_back(self, body: ev.LastTakenBack, events: list[ev.Event]) -> None:
        """Take back what lasts in `events`; the others were never taken in."""
        self.last_taken_back = tuple(events) or self.last_taken_back
        if not body.taken_back:
            self.sheet.vain_undos += 1
        for event in events:
            match event.body:
                case ev.MarkMade():
                    self.sheet.undo(f"m{event.seq}")
                case ev.ListeningPaused():
                    end_stretch(self.pauses, body.at_ms)
                case ev.ListeningResumed():
                    begin_stretch(self.pauses, body.at_ms, "paused")
                case ev.SessionClosed(at_ms=at_ms):
                    end_stretch(self.unheard, at_ms)
                    self.unheard.append(Stretch(at_ms, max(at_ms, body.at_ms), "the lesson had been ended"))

    def _take_note(self, event: ev.Event) -> None:
        match event.body:
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

    def session(
        self, events: list[ev.Event], opened: ev.SessionOpened, taken_back: Collection[int]
    ) -> Session:
        phases = spans_of(self.phases, self.closed_ms)
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
            holds_marks=opened.holds_marks,
            waiting=self.care.waiting,
            lists_waiting=opened.waiting is not None,
            answers=tuple(self.care.answers),
            phases=phases,
            marks=self.sheet.marks(phases),
            near_misses=self.sheet.near_misses(phases),
            notes=tuple(replace(note, phase=name_at(phases, note.at_ms)) for note in self.notes.values()),
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
            last_seq=events[-1].seq,
            last_ms=max(event.offset_ms for event in events),
            steps=tuple(steps),
            last_told=self.sheet.last_told,
            promises=self.care.promises(self.notes.values()),
            award=self.care.award,
            taught_again=tuple(self.care.taught_again),
            by_guest=self.care.by_guest,
            handed_over=self.care.handed_over,
            changed_since_handed_over=self.care.changed_since,
            done=undo.steps_in(events, taken_back),
            taken_back=self.last_taken_back,
        )
