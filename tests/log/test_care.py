"""What is looked after across sessions, in a real SQLite file."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.lesson import aftercare
from companion.lesson import event as ev
from companion.lesson.carry_over import CarriedOver
from companion.lesson.mark import FamilyContact, Kind, NoteKind, Source
from companion.lesson.recognition import Level
from companion.lesson.session import Session
from companion.lesson.undo import take_back
from companion.log.care import (
    Lent,
    answered_last,
    awards_back,
    awards_out,
    kept_for_note,
    promises,
    promises_done,
    unsaid,
    waiting_for,
)
from companion.log.forget import SESSIONS, take_out, whole_sessions
from companion.log.store import SessionLog, open_log
from companion.recording.settling import award_words, settling
from tests.lesson.builders import PLAN

MONDAY = datetime(2026, 9, 14, 9, 0, tzinfo=UTC)
CAN = Level("Harvest table", 1, "the brass can", 1)
CONTACT = FamilyContact("the teacher", "phone", due=date(2026, 9, 18))


@pytest.fixture
def log(tmp_path: Path) -> Iterator[SessionLog]:
    """Return an empty log."""
    with open_log(tmp_path / "sessions.db") as opened:
        yield opened


def held(log: SessionLog, group: str, week: int, *bodies: ev.Body, old: bool = False) -> Session:
    """Hold a lesson in a week with `bodies`. old: as an older program recorded its opening."""
    waiting = waiting_for(log, group)
    before = {"carry_over": waiting[-1].text if waiting else ""} if old else {"waiting": waiting}
    opened = ev.SessionOpened(group, PLAN, (CAN,), **before)
    session = log.open_session(opened, MONDAY + timedelta(weeks=week))
    for body in bodies:
        session = log.append(session.id, body, at=session.opened_at, offset_ms=1)
    return session


def record(log: SessionLog, session: Session, *bodies: ev.Body, at: datetime = MONDAY) -> Session:
    """Record `bodies` together."""
    return log.append_all(session.id, bodies, at=at, offset_ms=session.last_ms)


def texts(log: SessionLog, group: str) -> list[str]:
    """Return what waits for a class group."""
    return [one.text for one in waiting_for(log, group)]


def test_a_carry_over_waits_through_lessons_in_which_it_was_not_said(log: SessionLog) -> None:
    """Opened by mistake, held by a guest, cancelled: it is there next time, and several may wait."""
    first = held(log, "4-Hazel", 0, ev.CarryOverWritten("Close the tap."))
    second = held(
        log, "4-Hazel", 1, aftercare.SessionTaught(by_guest=True), ev.CarryOverWritten("Tools by the handle.")
    )
    third = held(log, "4-Hazel", 2)
    assert third.to_say == (
        CarriedOver(first.id, "Close the tap."),
        CarriedOver(second.id, "Tools by the handle."),
    )
    record(log, third, ev.CarryOverSaid(first.id))
    assert texts(log, "4-Hazel") == ["Tools by the handle."]
    record(log, log.session(third.id), ev.CarryOverSaid())
    assert texts(log, "4-Hazel") == []


def test_a_carry_over_is_dropped_moved_or_written_anew(log: SessionLog) -> None:
    """Moved, it waits for another class; each of it can be taken back."""
    session = held(log, "4-Hazel", 0, ev.CarryOverWritten("Close the tap."), ev.SessionSettled())
    session = record(log, session, aftercare.CarryOverMoved(session.id, "2-Birch"))
    assert (texts(log, "4-Hazel"), texts(log, "2-Birch")) == ([], ["Close the tap."])
    session = record(log, session, aftercare.CarryOverMoved(session.id, "5-Oak"))
    assert [(one.class_group, one.session) for one in unsaid(log)] == [("5-Oak", session.id)]
    session = record(log, session, aftercare.CarryOverDropped(session.id, "they know"))
    assert unsaid(log) == []
    record(log, session, ev.LastTakenBack((session.last_seq,), 2, Source.PAGE))
    assert texts(log, "5-Oak") == ["Close the tap."]


def test_in_older_logs_a_lesson_used_up_what_the_one_before_had_left(log: SessionLog) -> None:
    """No years of unsaid sentences come back; what the newest left waits."""
    held(log, "4-Hazel", 0, ev.CarryOverWritten("Forgotten."), old=True)
    held(log, "4-Hazel", 1, ev.CarryOverWritten("Close the tap."), old=True)
    assert texts(log, "4-Hazel") == ["Close the tap."]
    held(log, "4-Hazel", 2)
    assert texts(log, "4-Hazel") == ["Close the tap."]
    held(log, "4-Hazel", 3, ev.CarryOverSaid(), old=True)
    assert texts(log, "4-Hazel") == []


def test_promises_of_all_classes_are_listed_due_ones_first(log: SessionLog) -> None:
    """Kept and dropped ones are not among the open ones; those without a day come last."""
    note = ev.NoteOpened(NoteKind.OTHER, 1, Source.KEY)
    later = FamilyContact("the teacher", "letter", due=date(2026, 10, 1))
    some_day = FamilyContact("the teacher", "letter", "some day")
    for week, contact in enumerate((later, CONTACT, some_day)):
        held(log, f"{week}-Elm", week, note, ev.NoteCompleted("n2", "K. T.", NoteKind.OTHER, "", contact))
    assert [one.class_group for one in promises(log)] == ["1-Elm", "0-Elm", "2-Elm"]
    record(log, log.session(promises(log)[0].session), aftercare.PromiseKept("n2", date(2026, 9, 17)))
    assert [one.class_group for one in promises(log)] == ["0-Elm", "2-Elm"]
    assert len(promises(log, every=True)) == 3


def test_promises_that_were_done_on_a_day_are_told(log: SessionLog) -> None:
    """By the computer's own clock, the day before and after not; one that is open again is not done."""
    session = held(log, "4-Hazel", 0, ev.NoteOpened(NoteKind.OTHER, 0, Source.KEY))
    session = record(log, session, ev.NoteCompleted("n2", "K. T.", NoteKind.OTHER, "", CONTACT))
    session = record(log, session, aftercare.PromiseKept("n2", MONDAY.date()), at=MONDAY)
    day = MONDAY.astimezone().date()
    assert [one.promise.note for one in promises_done(log, day)] == ["n2"]
    assert promises_done(log, day + timedelta(days=1)) == promises_done(log, day - timedelta(days=1)) == []
    record(log, session, take_back(session, 1, Source.KEY))
    assert promises_done(log, day) == []


@pytest.mark.parametrize("tell", [True, False])
def test_a_kept_promise_stands_on_the_classs_next_note_only_if_the_teacher_says_so(
    log: SessionLog, tell: bool
) -> None:
    """On the next one, not on its own and not on the one after."""
    note = ev.NoteOpened(NoteKind.OTHER, 1, Source.KEY)
    first = held(log, "4-Hazel", 0, note, ev.NoteCompleted("n2", "K. T.", NoteKind.OTHER, "", CONTACT))
    kept = aftercare.PromiseKept("n2", date(2026, 9, 17), "all well", tell=tell)
    record(log, first, kept, at=MONDAY + timedelta(days=3))
    second, third = held(log, "4-Hazel", 1), held(log, "4-Hazel", 2)
    other = held(log, "2-Birch", 1)
    shown = [[one.child for one in kept_for_note(log, session)] for session in (first, second, third, other)]
    assert shown == [[], ["K. T."] if tell else [], [], []]


def test_an_award_goes_out_with_settling_until_none_is_left(log: SessionLog) -> None:
    """It is known which class has it since when; one event takes it back."""
    mark = ev.MarkMade(Kind.PRAISE, 1, Source.KEY)
    first, second = held(log, "4-Hazel", 0, mark), held(log, "2-Birch", 0, mark)
    assert award_words(log, first) == "the brass can goes home with it."
    first = record(log, first, *settling(log, first, first.recognition))
    assert [(lent.class_group, lent.object, lent.since) for lent in awards_out(log)] == [
        ("4-Hazel", "the brass can", MONDAY)
    ]
    assert award_words(log, second) == "None left of the brass can: still with 4-Hazel."
    second = record(log, second, *settling(log, second, second.recognition))
    assert second.award is None
    back = MONDAY + timedelta(days=3)
    record(log, first, aftercare.AwardReturned(), at=back)
    assert (awards_out(log), awards_out(log, "4-Hazel")) == ([], [])
    day = back.astimezone().date()
    assert awards_back(log, day) == [(first.id, Lent(first.id, "4-Hazel", "the brass can", MONDAY))]
    assert awards_back(log, day + timedelta(days=1)) == []


def test_an_award_is_brought_back_in_the_classs_next_lesson_and_undo_there_takes_that_back(
    log: SessionLog,
) -> None:
    """It is out again then; what the first lesson gives out anew is out as well."""
    first = held(log, "4-Hazel", 0, ev.MarkMade(Kind.PRAISE, 1, Source.KEY))
    first = record(log, first, *settling(log, first, first.recognition))
    second = held(log, "4-Hazel", 1)
    at = MONDAY + timedelta(weeks=1)
    second = record(log, second, aftercare.AwardBroughtBack(first.id), at=at)
    assert awards_out(log) == []
    assert [session for session, _ in awards_back(log, at.astimezone().date())] == [second.id]
    with pytest.raises(CompanionError, match="back already"):
        record(log, second, aftercare.AwardBroughtBack(first.id), at=at)
    record(log, second, take_back(second, 1, Source.KEY), at=at)
    assert [lent.session for lent in awards_out(log)] == [first.id]
    record(log, log.session(second.id), aftercare.AwardBroughtBack(first.id), at=at)
    record(
        log, first, aftercare.AwardReturned(), aftercare.AwardGiven("the gnome"), at=at + timedelta(days=1)
    )
    assert [lent.object for lent in awards_out(log)] == ["the gnome"]


def test_an_award_that_is_not_earned_any_more_is_back_after_settling_anew(log: SessionLog) -> None:
    """And one that is still earned stays out as it was."""
    session = held(log, "4-Hazel", 0, ev.MarkMade(Kind.PRAISE, 1, Source.KEY))
    session = record(log, session, *settling(log, session, session.recognition))
    session = record(log, session, ev.SessionReopened("a mark was wrong"))
    assert settling(log, session, session.recognition) == (ev.SessionSettled(),)
    session = record(log, session, ev.MarkDropped("m2"))
    record(log, session, *settling(log, session, session.recognition))
    assert awards_out(log) == []


def test_a_purged_session_leaves_nothing_to_look_after(log: SessionLog) -> None:
    """No promise, no award, no sentence."""
    note = ev.NoteOpened(NoteKind.OTHER, 1, Source.KEY)
    completed = ev.NoteCompleted("n2", "K. T.", NoteKind.OTHER, "", CONTACT)
    session = held(log, "4-Hazel", 0, note, completed, ev.CarryOverWritten("Close the tap."))
    record(log, session, aftercare.AwardGiven("the brass can"))
    take_out(log, whole_sessions([session.id]), SESSIONS, MONDAY)
    assert (promises(log, every=True), awards_out(log), unsaid(log)) == ([], [], [])


def test_sessions_whose_own_carry_over_was_answered_are_told_last_first(log: SessionLog) -> None:
    """In themselves: one that a later session said is not among them."""
    first, second, third = (held(log, "4-Hazel", week, ev.CarryOverWritten("Tap.")) for week in range(3))
    record(log, second, aftercare.CarryOverDropped(second.id, "they know"))
    record(log, first, aftercare.CarryOverMoved(first.id, "2-Birch"))
    held(log, "4-Hazel", 3, ev.CarryOverSaid(third.id))
    assert answered_last(log) == [first.id, second.id]
    assert answered_last(log, most=1) == [first.id]
