"""What goes for good leaves no byte behind, and what stays verifies."""

import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from companion.lesson import event as ev
from companion.lesson.mark import FamilyContact, NoteKind, Source
from companion.log import forget
from companion.log.care import promises
from companion.log.damage import damages
from companion.log.drafts import Draft, Drafts
from companion.log.forget import (
    CHILD,
    NOTES,
    SESSIONS,
    StillReadError,
    notes_before,
    one_child,
    rewrite,
    take_out,
    whole_sessions,
)
from companion.log.store import SessionLog, open_log
from companion.log.traces import traces
from tests.lesson.builders import AT, OPENED, began, many, praise

SECRET = 'a splinter in the left thumb, "the big one"\nand a plaster'
ROUTINE = "fetch water in pairs"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return where a log may be made."""
    return tmp_path / "home" / "sessions.db"


def noted(log: SessionLog, child: str = "K. T.", days: int = 0, line: str = SECRET) -> str:
    """Write a lesson with marks and a note about a child, `days` ago."""
    at = AT - timedelta(days=days)
    session = log.open_session(OPENED, at)
    log.append_all(session.id, (began("arrival", 0), praise(1_000, routine=ROUTINE)), at=at, offset_ms=1_000)
    session = log.append(session.id, ev.NoteOpened(NoteKind.HEALTH_OFFICE, 5, Source.KEY), at=at, offset_ms=5)
    contact = FamilyContact("me", "by telephone", "before 15:00")
    completed = ev.NoteCompleted(session.notes[0].id, child, NoteKind.HEALTH_OFFICE, line, contact)
    log.append(session.id, completed, at=at, offset_ms=5)
    return log.append(session.id, ev.CarryOverWritten(f"Ask {child} first."), at=at, offset_ms=6).id


def test_sessions_leave_no_byte_in_any_file(path: Path) -> None:
    """Neither name, note nor routine, in log, write-ahead log and shared memory."""
    with open_log(path) as log:
        log._db.execute("PRAGMA secure_delete = OFF")
        doomed, kept = noted(log), log.open_session(OPENED, AT).id
        log.append_all(kept, [*many(praise(1_000), 200)], at=AT, offset_ms=1)
        found, words = take_out(log, whole_sessions([doomed, "nowhere"]), SESSIONS, AT)
        assert found.count == 1
        assert {SECRET, ROUTINE, doomed} <= words
        assert traces(path.parent, words), "the search finds what is still there"
        rewrite(log)
        assert traces(path.parent, words) == []
        assert [summary.session for summary in log.summaries()] == [kept]
        assert log.events(doomed) == []
    assert traces(path.parent, words) == []
    assert damages(path) == []


def test_a_reader_that_keeps_old_pages_is_waited_for_and_told(path: Path) -> None:
    """It is not said to be gone as long as it is not; it can be finished when the reader has ended."""
    with open_log(path) as log:
        doomed = noted(log)
        log.open_session(OPENED, AT)
        with closing(sqlite3.connect(path)) as reader:
            reader.execute("BEGIN")
            reader.execute("SELECT count(*) FROM event").fetchone()
            _, words = take_out(log, whole_sessions([doomed]), SESSIONS, AT)
            with pytest.raises(StillReadError, match="still in its file"):
                rewrite(log, within_s=0.2)
            assert traces(path.parent, words)
            assert forget.is_unfinished(log)
        rewrite(log)
        assert traces(path.parent, words) == []


def test_a_reader_that_ends_in_time_is_waited_for(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is tried again until the reader has ended, and then it is gone."""
    with open_log(path) as log:
        doomed = noted(log)
        with closing(sqlite3.connect(path)) as reader:
            reader.execute("BEGIN")
            reader.execute("SELECT count(*) FROM event").fetchone()
            _, words = take_out(log, whole_sessions([doomed]), SESSIONS, AT)
            monkeypatch.setattr("time.sleep", lambda _: reader.rollback())
            rewrite(log)
            assert traces(path.parent, words) == []


def test_what_was_typed_about_it_goes_as_well(path: Path) -> None:
    """By the session, and by the words; what was typed of other things stays."""
    with open_log(path) as log:
        doomed, other = noted(log), log.open_session(OPENED, AT).id
        drafts = Drafts(path)
        drafts.keep(f"{doomed}/review", "why", Draft("my hands were full", ""))
        drafts.keep(f"{other}/note", "line", Draft(SECRET, ""))
        drafts.keep(f"{other}/view", "text", Draft("Calm.", ""))
        take_out(log, whole_sessions(["nowhere"]), SESSIONS, AT)
        assert len(drafts.all()) == 3
        take_out(log, whole_sessions([doomed]), SESSIONS, AT)
        assert set(drafts.all()) == {f"{other}/view"}


def test_after_forgetting_the_log_is_append_only_again(path: Path) -> None:
    """That something went, how much and when, stays on record; the words do not."""
    with open_log(path) as log:
        take_out(log, whole_sessions([noted(log)]), SESSIONS, AT)
        noted(log)
        (told,) = forget.forgotten_since(log, AT - timedelta(days=1))
        take_out(log, notes_before(AT + timedelta(days=1)), NOTES, AT + timedelta(hours=1))
        assert [one.what for one in forget.forgotten_since(log, AT - timedelta(days=1))] == [NOTES, SESSIONS]
        assert (told.what, told.count, told.at) == (SESSIONS, 1, AT)
        assert (told.words, forget.amount(NOTES, 1), forget.amount(NOTES, 2)) == (
            "1 session",
            "1 individual note",
            "2 individual notes",
        )
        assert forget.is_unfinished(log)
        forget.mark_gone(log)
        assert not forget.is_unfinished(log)
    with (
        closing(sqlite3.connect(path)) as stranger,
        pytest.raises(sqlite3.IntegrityError, match="append-only"),
    ):
        stranger.execute("DELETE FROM event")


def test_individual_notes_go_after_their_days_and_marks_stay(path: Path) -> None:
    """The old lesson has its marks and no note to complete; the newer one keeps its note; both verify."""
    with open_log(path) as log:
        old, new = noted(log, days=61, line="an old bruise on the knee"), noted(log, days=59)
        found, words = take_out(log, notes_before(AT - timedelta(days=60)), NOTES, AT)
        assert found.count == 1
        rewrite(log)
        assert log.session(old).notes == ()
        assert log.session(old).praise == 1
        assert [note.child for note in log.session(new).notes] == ["K. T."]
        assert "an old bruise on the knee" in words
        assert traces(path.parent, words) == []
        assert log.append(old, praise(9_000), at=AT, offset_ms=9_000).praise == 2
        assert take_out(log, notes_before(AT - timedelta(days=60)), NOTES, AT)[0].count == 0
    assert damages(path) == []


def test_one_child_goes_everywhere(path: Path) -> None:
    """Its notes with all that was in them, and its initials in every other text; other children stay."""
    with open_log(path) as log:
        mine, other = noted(log, "K. T."), noted(log, "K. T. R.", line="no word about the other")
        view = "Good, but k. t. was cold, KT too, and KTR and kt were not."
        log.append(other, ev.TeacherViewed(view), at=AT, offset_ms=7)
        found, words = take_out(log, one_child("K. T."), CHILD, AT)
        assert found.count == 1 + 3, "a note, and three events with a mention"
        rewrite(log)
        assert log.session(mine).notes == ()
        assert log.session(mine).carry_over == "Ask … first."
        assert log.session(other).teacher_view == "Good, but … was cold, … too, and KTR and kt were not."
        assert [note.child for note in log.session(other).notes] == ["K. T. R."]
        assert {SECRET, "k. t. was cold, KT"} <= words
        assert traces(path.parent, {*words, "K. T.", "k. t. was cold"}) == []
        assert [summary.carry_over for summary in log.summaries()] == ["Ask K. T. R. first.", "Ask … first."]
        assert [one.promise.child for one in promises(log)] == ["K. T. R."]
    assert damages(path) == []


def test_another_note_of_the_same_lesson_stays(path: Path) -> None:
    """What was begun and completed for one child is not the other's."""
    with open_log(path) as log:
        session = noted(log, "K. T.")
        opened = log.append(session, ev.NoteOpened(NoteKind.OTHER, 7, Source.KEY), at=AT, offset_ms=7)
        other = ev.NoteCompleted(opened.notes[-1].id, "J. R.", NoteKind.OTHER, "helped at the pump")
        log.append(session, other, at=AT, offset_ms=8)
        take_out(log, one_child("K. T."), CHILD, AT)
        assert [(note.child, note.line) for note in log.session(session).notes] == [
            ("J. R.", "helped at the pump")
        ]


def test_a_note_about_another_child_stays_without_the_mention(path: Path) -> None:
    """Only the words about the one child go; the others stand in the file as they did."""
    with open_log(path) as log:
        session = noted(log, "J. R.", line="sat with K. T. at the 은행나무")
        untouched = noted(log, "은지", line="wächst")
        found, words = take_out(log, one_child("K. T."), CHILD, AT)
        assert found.count == 1
        assert words == {"K. T."}
        note = log.session(session).notes[0]
        assert (note.child, note.line) == ("J. R.", "sat with … at the 은행나무")
        with log.reading() as db:
            bodies = [row["body"] for row in db.query("SELECT body FROM event WHERE session = ?", [session])]
        assert any("은행나무" in body for body in bodies)
        assert log.session(untouched).notes[0].line == "wächst"


@pytest.mark.parametrize(
    ("child", "found", "other"),
    [
        ("seat 12", "Seat 12, seat12 and SEAT  12", "seat 1, seat 121, seat 2"),
        ("A. T.", "A. T., a.t. and AT", "at, a t, T. A. T., A. T. B."),
        ("K", "K. and K", "k, KT, K. T., ok"),
        ("은지", "은지, 은.지 and 은지", "은지수"),
    ],
)
def test_a_child_is_found_however_the_code_is_written(child: str, found: str, other: str) -> None:
    """And no word that only looks like it."""
    word = forget.word_for(child)
    assert {*word.sub("…", found).replace(",", "").split()} == {"…", "and"}
    assert word.sub("", other) == other
