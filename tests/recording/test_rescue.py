"""The rescue file: what the log did not take outlasts the companion."""

import json
from collections.abc import Sequence
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.lesson.event import Body, Event, SessionOpened
from companion.lesson.fold import Telling
from companion.lesson.mark import NoteKind, Source
from companion.log.codec import row_of
from companion.log.forget import one_child, whole_sessions
from companion.log.store import SessionLog, go_on
from companion.recording.rescue import RescueFile, forget_rescued
from tests.lesson.builders import AT, OPENED, began, praise, reminder
from tests.systems import is_private


def telling(name: str, *bodies: Body, after: Telling | None = None) -> Telling:
    """Return a session of that name, or `after` with more in it."""
    opened: Sequence[Body] = () if after else (SessionOpened(**{f: getattr(OPENED, f) for f in FIELDS}),)
    return go_on(name, after, (*opened, *bodies), at=AT, offset_ms=0)


FIELDS = ("class_group", "plan", "levels", "tables")
SESSION, OTHER = "01ARZ3NDEKTSV4RRFFQ69G5FAV", "01ARZ3NDEKTSV4RRFFQ69G5FAW"


def kept(log: SessionLog, *sessions: Sequence[Event]) -> RescueFile:
    """Return the rescue file of a companion that ended with `sessions` in it."""
    assert RescueFile.beside(log.path).keep(sessions)
    return RescueFile.beside(log.path)


def test_what_the_log_lacks_of_a_session_is_taken_up_once(log: SessionLog) -> None:
    """All of one that it does not have, the rest of one that it has; then the file is gone."""
    short = telling(SESSION, began("arrival", 0))
    log.write(short, expected=0)
    longer = telling(SESSION, praise(1_000), reminder(2_000), after=short)
    rescue = kept(log, longer.events, telling(OTHER).events)
    assert rescue.take_up(log) == 3
    assert log.telling(SESSION).events == longer.events
    assert log.session(OTHER).class_group == "4-Hazel"
    assert list(log.path.parent.glob("*.jsonl")) == []
    assert rescue.take_up(log) == 0


def test_what_the_log_has_already_is_not_taken_up_again(log: SessionLog) -> None:
    """Nor is that of which it has more by now; the file goes, since nothing is only there."""
    short = telling(SESSION, began("arrival", 0))
    log.write(telling(SESSION, praise(1_000), after=short), expected=0)
    rescue = kept(log, short.events)
    assert rescue.take_up(log) == 0
    assert log.session(SESSION).praise == 1
    assert not rescue.path.exists()


def test_a_session_that_went_on_differently_stays_in_the_file(log: SessionLog) -> None:
    """Under another name, so that it is not asked again; the others are taken up."""
    short = telling(SESSION, began("arrival", 0))
    log.write(telling(SESSION, reminder(1_000), after=short), expected=0)
    mine = telling(SESSION, praise(1_000), after=short)
    rescue = kept(log, mine.events, telling(OTHER).events)
    assert rescue.take_up(log) == 1
    assert (log.session(SESSION).praise, log.session(SESSION).reminder) == (0, 1)
    (left,) = log.path.parent.glob("*.jsonl")
    assert left.name == "sessions-rescue-2.jsonl"
    assert [json.loads(line)["id"] for line in left.read_text().splitlines()[:3]] == [
        event.id for event in mine.events
    ]
    assert kept(log, mine.events).take_up(log) == 0
    assert {path.name for path in log.path.parent.glob("*.jsonl")} == {left.name, "sessions-rescue-3.jsonl"}


def test_the_file_is_private_and_written_only_when_there_is_something_new(log: SessionLog) -> None:
    """And dropped when the log has everything."""
    rescue = RescueFile.beside(log.path)
    events = telling(SESSION).events
    assert rescue.keep([events])
    assert is_private(rescue.path)
    before = rescue.path.stat().st_ino
    assert rescue.keep([events])
    assert rescue.path.stat().st_ino == before
    assert rescue.keep([telling(SESSION, praise(1)).events])
    assert len(rescue.path.read_text().splitlines()) == 2
    assert [path.name for path in log.path.parent.glob("*rescue*")] == ["sessions-rescue.jsonl"]
    rescue.drop()
    assert not rescue.path.exists()
    assert rescue.keep([events])
    assert rescue.path.exists()
    rescue.path.unlink()
    rescue.drop()
    assert rescue.keep([events])
    assert rescue.path.exists()


def test_a_file_of_another_run_is_not_dropped(log: SessionLog) -> None:
    """What it holds has not been taken up."""
    rescue = kept(log, telling(SESSION).events)
    rescue.drop()
    assert rescue.path.exists()


def test_a_disk_that_does_not_take_it_is_told(tmp_path: Path) -> None:
    """The caller says then that something is lost."""
    rescue = RescueFile(tmp_path / "gone" / "rescue.jsonl")
    assert not rescue.keep([telling(SESSION).events])
    rescue.drop()


@pytest.mark.parametrize("torn", ["{", '{"kind": "praise"}', "[]", '{"kind": "session opened", "body": 1}'])
def test_what_can_not_be_read_is_put_where_nothing_is_written_over_it(log: SessionLog, torn: str) -> None:
    """Somebody may read it by hand; the rest of the file is taken up."""
    rescue = kept(log, telling(SESSION).events)
    text = f"{rescue.path.read_text()}{torn}\n"
    rescue.path.write_text(text)
    assert rescue.take_up(log) == 1
    assert rescue.keep([telling(OTHER).events])
    assert (log.path.parent / "sessions-rescue-2.jsonl").read_text() == text


@pytest.mark.parametrize("missing", [0, 1])
def test_a_session_that_lacks_an_event_stays_in_the_file(log: SessionLog, missing: int) -> None:
    """The log would be told to be damaged ever after, or could not be read; the next session is taken up."""
    events = list(telling(SESSION, began("arrival", 0), praise(1_000)).events)
    del events[missing]
    rescue = kept(log, events, telling(OTHER).events)
    assert rescue.take_up(log) == 1
    assert [one.session for one in log.summaries()] == [OTHER]
    assert not rescue.path.exists()
    assert len((log.path.parent / "sessions-rescue-2.jsonl").read_text().splitlines()) == 3


def test_a_file_that_the_disk_does_not_give_is_not_written_over(log: SessionLog) -> None:
    """It may be read again another day."""
    rescue = RescueFile.beside(log.path)
    rescue.path.mkdir()
    assert rescue.take_up(log) == 0
    assert (log.path.parent / "sessions-rescue-2.jsonl").is_dir()


def test_a_log_that_does_not_take_it_leaves_the_file(log: SessionLog) -> None:
    """The next start tries again."""
    rescue = kept(log, telling(SESSION).events)
    log._db.execute("CREATE TRIGGER full BEFORE INSERT ON event BEGIN SELECT RAISE(FAIL, 'full'); END")
    with pytest.raises(CompanionError):
        rescue.take_up(log)
    assert rescue.path.exists()


def test_a_line_is_a_row_of_the_log(log: SessionLog) -> None:
    """Whoever reads the log from outside reads this, too."""
    events = telling(SESSION, began("arrival", 0, Source.CLOCK)).events
    assert "4-개암" in kept(log, telling(OTHER, ev.ClassGroupNamed("4-개암")).events).path.read_text("utf-8")
    rescue = kept(log, events)
    assert [json.loads(line) for line in rescue.path.read_text(encoding="utf-8").splitlines()] == [
        row_of(event) for event in events
    ]


def test_what_is_forgotten_goes_from_every_rescue_file(log: SessionLog) -> None:
    """Whole sessions, and words of one that stays; a file with nothing left goes, a torn one is told."""
    note = (ev.NoteOpened(NoteKind.OTHER, 1, Source.KEY), ev.NoteCompleted("n2", "K. T.", NoteKind.OTHER))
    others = telling(OTHER, ev.ClassGroupNamed("4-개암"))
    rescue, folder = kept(log, telling(SESSION, *note).events, others.events), log.path.parent
    before = rescue.path.read_text(encoding="utf-8")
    assert forget_rescued(log.path, whole_sessions(["nowhere"])) == (0, [])
    assert rescue.path.read_text(encoding="utf-8") == before
    (folder / "sessions-rescue-2.jsonl").write_text(before, encoding="utf-8")
    assert forget_rescued(log.path, one_child("K. T.")) == (4, [])
    rows = [json.loads(line) for line in rescue.path.read_text(encoding="utf-8").splitlines()]
    assert [row["kind"] for row in rows] == [
        "session opened",
        "note forgotten",
        "note forgotten",
        "session opened",
        "class group named",
    ]
    assert "4-개암" in rescue.path.read_text(encoding="utf-8")
    assert "K. T." not in (folder / "sessions-rescue-2.jsonl").read_text(encoding="utf-8")
    assert forget_rescued(log.path, whole_sessions([SESSION])) == (2, [])
    assert len(rescue.path.read_text(encoding="utf-8").splitlines()) == 2
    (folder / "sessions-rescue-4.jsonl").touch()
    torn = folder / "sessions-rescue-3.jsonl"
    torn.write_text("{")
    assert forget_rescued(log.path, whole_sessions([OTHER])) == (2, [torn])
    assert {path.name for path in folder.glob("*.jsonl")} == {torn.name, "sessions-rescue-4.jsonl"}
