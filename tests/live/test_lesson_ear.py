"""The ear of one session: what is told where several things are the matter at once."""

from companion.lesson.fold import fold
from companion.listening.microphone.capture import Microphone
from companion.live.lesson_ear import EarParts, LessonEar
from tests.lesson.builders import events
from tests.listening.device import Scripted
from tests.live.test_live import Parrot
from tests.school_day import settings

GONE, FROZEN = ("the microphone is not there", "Plug it in."), ("nobody answers", "Restart.")
FAILED = ("the recogniser failed", "It is tried again.")


def test_one_reason_is_told_until_it_ends_whatever_comes_to_it() -> None:
    """A trouble of the recogniser, or other words about the microphone, do not take the first one's place."""
    session = fold(events())
    parts = EarParts(lambda *_: Parrot(), lambda name, told: Microphone(name, told, lambda _: Scripted()))
    ear = LessonEar(parts, lambda *_: None, lambda *_: None)
    ear.start(settings(), session)
    told = []
    for part, words in (
        ("microphone", GONE),
        ("recogniser", FAILED),
        ("microphone", FROZEN),
        ("microphone", None),
        ("recogniser", None),
    ):
        assert ear.note(session.id, part, words)
        told.append(ear.trouble)
    listener = ear.stop()
    assert listener is not None
    listener.wait(5.0)
    assert told == [GONE, GONE, FROZEN, FAILED, None]
