"""What a session has to look after, while its events are still being taken in."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from companion.lesson import aftercare
from companion.lesson import event as ev
from companion.lesson.award import AwardBack, AwardOut
from companion.lesson.carry_over import Answer, CarriedOver, CarryOverAnswer
from companion.lesson.mark import FamilyContact, IndividualNote
from companion.lesson.promise import Promise, PromiseState


@dataclass(slots=True)
class CareSheet:
    """Promises, the award, carry-overs, routines taught again, and the way of the hand-off note."""

    award: AwardOut | None = None
    brought_back: list[AwardBack] = field(default_factory=list)
    taught_again: list[aftercare.RoutineTaughtAgain] = field(default_factory=list)
    by_guest: bool = False
    handed_over: aftercare.HandOver | None = None
    changed_since: bool = False
    waiting: tuple[CarriedOver, ...] = ()
    answers: list[CarryOverAnswer] = field(default_factory=list)
    _planned: dict[str, FamilyContact | None] = field(default_factory=dict)
    """The contact of each note as it was planned last."""
    _moved: dict[str, aftercare.PromiseMoved] = field(default_factory=dict)
    _done: dict[str, ev.Event] = field(default_factory=dict)
    """How each promise ended, by its note."""

    def copy(self) -> "CareSheet":
        """Return a sheet that goes on and leaves this one as it is."""
        return replace(
            self,
            brought_back=self.brought_back.copy(),
            taught_again=self.taught_again.copy(),
            answers=self.answers.copy(),
            _planned=self._planned.copy(),
            _moved=self._moved.copy(),
            _done=self._done.copy(),
        )

    def take(self, event: ev.Event) -> None:  # noqa: PLR0912 - one case a kind of event
        """Take in an event; one that has nothing to look after changes nothing."""
        match event.body:
            case ev.SessionOpened() | ev.ClassGroupNamed() as body:
                self.waiting = _waiting(body)
            case ev.CarryOverSaid(origin=origin):
                said = [origin] if origin else [one.origin for one in self.waiting]
                self.answers += [CarryOverAnswer(one, Answer.SAID) for one in said]
            case aftercare.CarryOverDropped(origin=origin):
                self.answers.append(CarryOverAnswer(origin, Answer.DROPPED))
            case aftercare.CarryOverMoved(origin=origin, class_group=class_group):
                self.answers.append(CarryOverAnswer(origin, Answer.MOVED, class_group))
            case aftercare.PromiseKept() | aftercare.PromiseDropped() as body:
                self._done[body.note] = event
            case aftercare.PromiseMoved() as body:
                self._moved[body.note] = body
            case aftercare.AwardGiven(object=name):
                self.award = AwardOut(name, event.at)
            case aftercare.AwardReturned() if self.award is not None:
                self.award = replace(self.award, returned=event.at)
            case aftercare.AwardBroughtBack(origin=origin):
                self.brought_back.append(AwardBack(origin, event.at))
            case aftercare.RoutineTaughtAgain() as body:
                self.taught_again.append(body)
            case aftercare.SessionTaught(by_guest=by_guest):
                self.by_guest = by_guest
            case aftercare.NoteHandedOver(how=how):
                self.handed_over, self.changed_since = how, False
            case ev.NoteCompleted(note=note, contact=contact):
                if contact != self._planned.get(note):
                    self._moved.pop(note, None)
                self._planned[note] = contact
                self.changed_since = self.handed_over is not None
            case ev.NoteDropped() | ev.SessionReopened():
                self.changed_since = self.handed_over is not None

    def promises(self, notes: Iterable[IndividualNote]) -> tuple[Promise, ...]:
        """Return the family contacts that were planned in `notes`, as they stand."""
        return tuple(self._promise(note, note.contact) for note in notes if note.contact and note.complete)

    def _promise(self, note: IndividualNote, contact: FamilyContact) -> Promise:
        moved = self._moved.get(note.id)
        promise = Promise(
            note.id,
            note.child,
            contact.by,
            contact.how,
            moved.due if moved else contact.due,
            "" if moved else contact.when,
        )
        done = self._done.get(note.id)
        if done is None:
            return promise
        promise = replace(promise, done_at=done.at)
        match done.body:
            case aftercare.PromiseKept(on=on, line=line, tell=tell):
                promise = replace(promise, state=PromiseState.KEPT, on=on, line=line, tell=tell)
            case aftercare.PromiseDropped(reason=reason):
                promise = replace(promise, state=PromiseState.DROPPED, line=reason)
        return promise


def _waiting(body: ev.SessionOpened | ev.ClassGroupNamed) -> tuple[CarriedOver, ...]:
    if body.waiting is not None:
        return body.waiting
    return (CarriedOver("", body.carry_over),) if body.carry_over else ()
