"""Which class group it is, said after the opening."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.lesson.mark import Kind, Source
from companion.lesson.opening import UNPLANNED
from companion.lesson.session import Session
from companion.log.store import SessionLog, open_log
from companion.recording.naming import known_class_groups, naming
from companion.settings.settings import Settings, parse_settings
from tests.school_day import CLASSES, EIGHT, SETTINGS, TIMETABLE

OTHER = """
[[plans]]
name = "kitchen"
phases = [{ name = "aprons", minutes = 5 }, { name = "cleanup", minutes = 9 }]
"""
LESSON = '[[timetable.lessons]]\nday = "mon"\nperiod = "one"\nclass_group = "4-Hazel"\n'


@pytest.fixture
def log(tmp_path: Path) -> Iterator[SessionLog]:
    """Give a log in which 4-Hazel's last lesson left something unsaid."""
    with open_log(tmp_path / "sessions.db") as opened:
        before = opened.open_session(
            ev.SessionOpened("4-Hazel", settings().plan()), EIGHT - timedelta(days=7)
        )
        opened.append(before.id, ev.CarryOverWritten("Close the tap."), at=before.opened_at, offset_ms=0)
        yield opened


def settings() -> Settings:
    """Return settings with two plans and a timetable."""
    return parse_settings(SETTINGS + OTHER + TIMETABLE + LESSON, "test.toml")


def unplanned(log: SessionLog, *bodies: ev.Body) -> Session:
    """Return a session that was opened by a key and has a praise."""
    session = log.open_session(ev.SessionOpened(UNPLANNED, settings().plan()), EIGHT)
    began = ev.PhaseBegan("arrival", 0, Source.CLOCK)
    return log.append_all(
        session.id, (began, ev.MarkMade(Kind.PRAISE, 10, Source.KEY), *bodies), at=EIGHT, offset_ms=20
    )


def named(log: SessionLog, session: Session, group: str, plan: str | None = None) -> Session:
    """Return the session after it was named."""
    bodies = naming(log, settings(), session, group, plan, 30, Source.PAGE)
    return log.append_all(session.id, bodies, at=EIGHT, offset_ms=30)


def test_a_session_belongs_to_the_class_that_was_named_afterwards(log: SessionLog) -> None:
    """History counts its marks there, and it hears what was left unsaid; the log keeps the first name."""
    session = named(log, unplanned(log), " 4-Hazel  ")
    assert (session.class_group, session.praise, session.carry_over_before) == (
        "4-Hazel",
        1,
        "Close the tap.",
    )
    assert [summary.praise for summary in log.summaries("4-Hazel")] == [1, 0]
    assert log.summaries(UNPLANNED) == []
    first = log.events(session.id)[0].body
    assert isinstance(first, ev.SessionOpened)
    assert first.class_group == UNPLANNED


def test_another_plan_begins_at_its_first_phase_unless_the_phase_is_one_of_it(log: SessionLog) -> None:
    """What ran before stays with its marks, and a mark can still be moved to it."""
    session = named(log, unplanned(log), "4-Hazel", "kitchen")
    assert [span.name for span in session.phases] == ["arrival", "aprons"]
    assert session.marks[0].phase == "arrival"
    assert session.phase_names == ("aprons", "cleanup", "arrival")
    log.append(session.id, ev.MarkAdded(Kind.PRAISE, "arrival"), at=EIGHT, offset_ms=40)
    kept = named(log, unplanned(log, ev.PhaseBegan("cleanup", 15, Source.KEY)), "4-Hazel", "kitchen")
    assert [span.name for span in kept.phases] == ["arrival", "cleanup"]


def test_a_lesson_that_is_over_is_named_without_a_new_phase(log: SessionLog) -> None:
    """Nothing is to be said to a class that has gone."""
    session = named(log, unplanned(log, ev.SessionClosed(20, Source.KEY)), "4-Hazel", "kitchen")
    assert [span.name for span in session.phases] == ["arrival"]
    assert session.carry_over_before == ""
    assert session.plan.name == "kitchen"


@pytest.mark.parametrize(("group", "plan"), [(" ", None), ("4-Hazel", "woodwork")])
def test_no_name_and_an_unknown_plan_are_refused(log: SessionLog, group: str, plan: str | None) -> None:
    """The session stays as it is."""
    session = unplanned(log)
    with pytest.raises(CompanionError, match=r"needs a name|no plan 'woodwork'"):
        named(log, session, group, plan)
    assert log.session(session.id) == session


def test_known_class_groups_are_those_of_timetable_and_log(log: SessionLog) -> None:
    """A session that is of none offers nothing to choose."""
    unplanned(log)
    assert known_class_groups(log, settings()) == [CLASSES["one"]]
    other = parse_settings(SETTINGS + TIMETABLE + LESSON.replace("4-Hazel", "2-Birch"), "test.toml")
    assert known_class_groups(log, other) == ["2-Birch", "4-Hazel"]
    assert known_class_groups(log, parse_settings(SETTINGS, "test.toml")) == ["4-Hazel"]
