"""Settling a session, with what goes home."""

from companion.lesson.aftercare import AwardGiven, AwardReturned
from companion.lesson.event import SessionOpened, SessionSettled
from companion.lesson.recognition import Level
from companion.log.store import SessionLog
from companion.recording.settling import award_words, settling
from tests.lesson.builders import AT, PLAN, praise

GNOME = Level("Full bloom", 1, "the garden gnome")
PLAIN = Level("Sprouting", 0)
CAN = Level("Watering", 9, "the brass can")


def lesson(log: SessionLog, class_group: str) -> str:
    """Hold a lesson that earns the gnome, of which there is one."""
    session = log.open_session(SessionOpened(class_group, PLAN, (CAN, GNOME, PLAIN)), AT).id
    log.append(session, praise(1_000), at=AT, offset_ms=1_000)
    return session


def settle(log: SessionLog, session: str, level: str | None) -> None:
    """Record what settling it with `level` means."""
    log.append_all(session, settling(log, log.session(session), level), at=AT, offset_ms=2_000)


def test_the_object_of_the_level_goes_home_if_a_piece_is_left(log: SessionLog) -> None:
    """The next class that earns it gets none, and is told who has it."""
    first, second = lesson(log, "4-Hazel"), lesson(log, "2-Birch")
    assert award_words(log, log.session(first)) == "the garden gnome goes home with it."
    assert settling(log, log.session(first), GNOME.name) == (AwardGiven("the garden gnome"), SessionSettled())
    settle(log, first, GNOME.name)
    assert award_words(log, log.session(first)) == "the garden gnome goes home with it."
    assert settling(log, log.session(second), GNOME.name) == (SessionSettled(),)
    settle(log, lesson(log, "5-Oak"), CAN.name)
    told = "None left of the garden gnome: still with 4-Hazel."
    assert award_words(log, log.session(second)) == told
    settle(log, second, GNOME.name)
    assert award_words(log, log.session(second)) == told
    log.append(first, AwardReturned(), at=AT, offset_ms=3_000)
    assert award_words(log, log.session(first)) == "the garden gnome goes home with it."
    assert award_words(log, log.session(second)) == ""


def test_settled_again_it_gives_nothing_twice_and_takes_back_what_is_not_earned(log: SessionLog) -> None:
    """The same level changes nothing; another one brings the object back."""
    session = lesson(log, "4-Hazel")
    settle(log, session, GNOME.name)
    assert settling(log, log.session(session), GNOME.name) == (SessionSettled(),)
    assert settling(log, log.session(session), PLAIN.name) == (AwardReturned(), SessionSettled())


def test_a_level_without_an_object_sends_nothing_home(log: SessionLog) -> None:
    """And no recognition neither."""
    session = log.session(lesson(log, "4-Hazel"))
    assert settling(log, session, PLAIN.name) == settling(log, session, None) == (SessionSettled(),)
    empty = log.open_session(SessionOpened("5-Oak", PLAN, (GNOME, PLAIN)), AT)
    assert award_words(log, empty) == ""
