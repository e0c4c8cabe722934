"""Which tones tell what was just recorded. Pure."""

from collections.abc import Iterable, Iterator

from companion.lesson import event as ev
from companion.lesson.mark import Kind
from companion.lesson.session import Session
from companion.sounding.sounds import Tone


def tones_for(before: Session | None, after: Session | None, bodies: Iterable[ev.Body]) -> Iterator[Tone]:
    """Yield a tone for each of `bodies` that has one; they made `after` of the session `before`."""
    if before is None or after is None:
        yield Tone.REFUSAL
        return
    for body in bodies:
        match body:
            case ev.MarkMade(kind=Kind.PRAISE):
                yield Tone.PRAISE
            case ev.MarkMade():
                yield Tone.REMINDER
            case ev.NoteOpened() | ev.MarksTold():
                yield Tone.NOTE
            case ev.LastTakenBack():
                yield Tone.REFUSAL if after.vain_undos > before.vain_undos else Tone.UNDO
