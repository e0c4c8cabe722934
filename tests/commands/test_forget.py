"""`companion forget` as its user runs it: what was kept long enough goes, and what stays verifies."""

import io
import os
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from companion.lesson import event as ev
from companion.live.clip_folder import ClipFolder
from companion.live.forgetting import forget_due
from companion.log.copies import back_up, backups, set_aside
from companion.log.damage import damages
from companion.log.drafts import Draft, Drafts
from companion.log.exchange import export_lines
from companion.log.store import open_log
from companion.log.traces import traces
from companion.paths import Home
from companion.recording.due import due_sessions, told
from companion.settings.keeping import GRACE_DAYS, KeepingSection
from companion.settings.pictures import Pictures, of_carry_over
from companion.settings.settings import parse_settings
from tests.commands.conftest import Run
from tests.lesson.builders import AT, OPENED
from tests.log.test_forget import SECRET, noted
from tests.pages.lessons import BODIES, write_lesson
from tests.school_day import SETTINGS, settings

NOW = datetime.now().astimezone()
DAYS = (NOW - AT).days


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return the home of `call`, with one lesson of 61 days ago, one of yesterday, and backups of both."""
    home = Home(tmp_path / "home").create()
    home.settings.write_text(SETTINGS, encoding="utf-8")
    with open_log(home.log) as log:
        noted(log, "K. T.", days=61 - DAYS)
        back_up(home.log, "day", NOW - timedelta(days=2))
        noted(log, "B. L.", days=1 - DAYS, line="went home sooner")
    back_up(home.log, "day", NOW - timedelta(days=1))
    return home


def test_notes_whose_time_is_over_go_from_the_log_and_its_backups(call: Run, home: Home) -> None:
    """Nothing of them is in any file of the companion; marks, newer notes and backups are there and sound."""
    before = [one.at for one in backups(home.log)]
    said = call("forget").stdout
    assert "1 individual note" in said
    copies = {one.path for one in backups(home.log)}
    assert {*traces(home.folder, ["Ask K. T. first"])} == {home.log, *copies}, "a carry-over is no note"
    assert traces(home.folder, [SECRET]) == []
    for path in (home.log, *(one.path for one in backups(home.log))):
        assert damages(path) == []
    assert [one.at for one in backups(home.log)][1:] == before
    with open_log(home.log) as log:
        assert [len(log.session(one.session).notes) for one in log.summaries()] == [1, 0]
        assert told(log, settings(), NOW)[0].endswith(": 1 individual note.")
    assert "nothing" in call("forget").stdout


def test_one_child_goes_on_request(call: Run, home: Home) -> None:
    """From notes and from every other text; it asks first, and a name is no child's code."""
    assert "never a name" in call("forget", "--child", "Katharina", code=2).stderr
    call("forget", "--child", "K. T.", said="n\n", code=1)
    assert traces(home.folder, [SECRET])
    call("forget", "--child", "K. T.", said="y\n")
    assert traces(home.folder, [SECRET, "K. T. first", '"K. T."']) == []
    with open_log(home.log) as log:
        assert [note.child for one in log.summaries() for note in log.session(one.session).notes] == ["B. L."]


def test_initials_are_asked_for_where_a_command_line_would_show_them(call: Run, home: Home) -> None:
    """By a question, or a pipe: while a command runs, every user of the computer can read its words."""
    assert "Initials or seat number" in call("forget", "--child", "-", said="K. T.\ny\n").stderr
    assert traces(home.folder, ["Ask K. T. first"]) == []
    assert "never a name" in call("forget", "--child", "-", said="Katharina\n", code=2).stderr
    call("forget", "--child", "-", said="", code=1)


def test_a_damaged_log_that_holds_it_still_is_named(call: Run, home: Home) -> None:
    """What can't be rewritten is listed, so that nobody takes it for gone."""
    copy = home.log.read_bytes()
    with open_log(home.log):
        pass
    aside = set_aside(home.log, NOW)
    home.log.write_bytes(copy)
    told_so = call("forget", "--yes", code=2)
    assert "1 individual note" in told_so.stdout
    assert str(aside) in told_so.stderr
    assert str(home.log) + "," not in told_so.stderr


def test_a_purge_leaves_nothing_either(call: Run, home: Home) -> None:
    """Clips and backups too."""
    with open_log(home.log) as log:
        doomed = log.summaries()[-1].session
    ClipFolder(home.clips, date.max).keep(doomed, "m3", np.zeros(1600, np.int16), NOW.date())
    assert traces(home.folder, [doomed])
    call("log", "purge", doomed, "--yes")
    assert traces(home.folder, [doomed, SECRET]) == []


def test_what_was_planned_is_no_trace_of_a_lesson(call: Run, home: Home) -> None:
    """The demo's log and compiled pages hold a phase's, a level's and a rating's names: they rightly stay."""
    with open_log(home.log) as log:
        every = [summary.session for summary in log.summaries()]
    demo = home.folder / "demo" / "sessions.db"
    demo.parent.mkdir()
    write_lesson(demo, *BODIES)
    compiled = home.run / "templates" / "page"
    compiled.parent.mkdir(parents=True)
    compiled.write_text("went well, work time", encoding="utf-8")
    call("log", "purge", *every, "--yes")


def test_what_lies_beside_the_log_is_emptied_as_well(call: Run, home: Home) -> None:
    """Rescue files never taken up, typed words, a carry-over's picture, files of a killed program."""
    drafts, pictures = Drafts(home.log), Pictures(home.pictures)
    with open_log(home.log) as log:
        newer, older = (summary.session for summary in log.summaries())
        lines = [f"{line}\n" for session in (older, newer) for line in export_lines(log, session)]
    rescued = home.log.with_name("sessions-rescue-2.jsonl")
    rescued.write_text("".join(lines))
    drafts.keep(f"{newer}/view", "text", Draft("K. T. helped", ""))
    drafts.keep(f"{newer}/carry-over", "text", Draft("Quiet line", ""))
    picture = io.BytesIO()
    Image.new("RGB", (8, 8)).save(picture, "PNG")
    pictures.put(of_carry_over(older), picture.getvalue(), child_seen=False)
    killed = [home.folder / "salvage-x1" / "copy.db", home.log.with_name("sessions.db.restored")]
    for path in killed:
        path.parent.mkdir(exist_ok=True)
        path.write_text(SECRET)
        os.utime(path, (0, 0))
    os.utime(killed[0].parent, (0, 0))

    call("forget", "--child", "K. T.", "--yes")
    assert traces(home.folder, [SECRET, "K. T. first", "K. T. helped", '"K. T."']) == []
    assert not any(path.exists() for path in killed)
    assert [*drafts.all()] == [f"{newer}/carry-over"]
    assert "B. L." in rescued.read_text()
    assert pictures.name_of(of_carry_over(older))
    call("log", "purge", older, "--yes")
    assert [*home.pictures.glob("*.jpg")] == traces(home.folder, [older]) == []
    call("log", "purge", newer, "--yes")
    assert traces(home.folder, [newer, "B. L."]) == []
    assert not rescued.exists()


def test_clips_and_what_was_learnt_go_at_once(call: Run, home: Home) -> None:
    """Whole folders, after a question."""
    for folder in (home.clips, home.voice):
        folder.mkdir()
        (folder / "one.flac").write_bytes(b"sound")
    call("forget", "--clips", "--voice", said="y\nn\n", code=1)
    assert (home.clips.exists(), home.voice.exists()) == (False, True)
    assert "1 file" in call("forget", "--voice", "--yes").stdout
    assert not home.voice.exists()


def test_whole_sessions_go_some_weeks_after_their_school_year(tmp_path: Path) -> None:
    """The timetable says when it ends, else the settings; it is told before; "always" keeps them."""
    home, school = Home(tmp_path / "home").create(), settings(timetable=True)
    with open_log(home.log) as log:
        for days in (500, 400, 0):
            log.open_session(OPENED, AT - timedelta(days=days))
        assert len(due_sessions(log, school, AT)) == 1
        ends = datetime(2027, 6, 11, 12, tzinfo=AT.tzinfo)
        assert any(
            "within 30 days" in line for line in told(log, settings(), datetime(2026, 9, 1, tzinfo=AT.tzinfo))
        )
    outcome = forget_due(home, school, AT)
    assert outcome.words == "1 session"
    forget_due(home, school, ends + timedelta(days=GRACE_DAYS - 1))
    with open_log(home.log) as log:
        assert len(log.summaries()) == 1
    forget_due(home, school, ends + timedelta(days=GRACE_DAYS))
    with open_log(home.log) as log:
        assert log.summaries() == []
    always = KeepingSection(sessions="always")
    assert always.session_goes(AT.date(), None) is None
    with pytest.raises(Exception, match="no day of every year"):
        parse_settings(SETTINGS + '[keeping]\nschool_year_ends = "02-30"\n', "test.toml")


def test_forgetting_keeps_the_steps_of_the_review(tmp_path: Path) -> None:
    """What was dropped, changed and undone in the lesson stands as it did; only the note is gone."""
    home = Home(tmp_path / "home").create()
    with open_log(home.log) as log:
        session = noted(log)
        log.append(session, ev.MarkDropped("m3", "twice"), at=AT, offset_ms=9)
        log.append(session, ev.SessionSettled(), at=AT, offset_ms=10)
        before = log.session(session)
    forget_due(home, settings(), AT + timedelta(days=100))
    with open_log(home.log) as log:
        after = log.session(session)
    assert after.marks == before.marks
    assert (after.settled, after.notes) == (True, ())
