"""What the day asks for: its lessons by the timetable, and settings that have changed."""

from datetime import timedelta
from pathlib import Path

from companion.lesson.mark import Source
from companion.lesson.opening import Opening
from companion.live.live import Live
from companion.live.state import LiveState
from companion.log.store import open_log
from companion.settings.watch import SettingsWatch
from tests.live.room import HAZEL, PRAISE, Room
from tests.school_day import CLASSES, SETTINGS, HandClock


def test_changed_settings_wait_for_the_lesson_to_end(tmp_path: Path) -> None:
    """The open lesson keeps its own; bad ones are told and change nothing; the next lesson has the new."""
    file = tmp_path / "companion.toml"
    file.write_text(SETTINGS)
    clock, watch = HandClock(), SettingsWatch(file)
    live = Live(tmp_path / "sessions.db", watch.settings, clock=clock, settings_watch=watch)
    live.start()

    def pass_time() -> LiveState:
        clock.go_on(10)
        live.tick().result()
        return live.state

    live.open(HAZEL, Source.KEY).result()
    file.write_text("this is no settings file")
    assert "can't be" in pass_time().settings_news
    file.write_text(SETTINGS.replace("minutes = 30", "minutes = 20"))
    assert "when this lesson is closed" in pass_time().settings_news
    assert live.settings.plan().minutes == 45
    assert live.ask(PRAISE, Source.KEY).result()
    assert live.open(Opening("2-Birch"), Source.KEY).result().plan.minutes == 35
    file.write_text(SETTINGS.replace('"garden"', '"kitchen"'))
    assert live.open(Opening("5-Oak", "garden"), Source.CLOCK).result().plan.minutes == 35
    live.close(Source.KEY).result()
    file.write_text(SETTINGS)
    assert pass_time().settings_news == ""
    assert live.settings.plan().minutes == 45
    live.stop()


def test_eight_hours_with_six_classes_open_and_close_by_the_timetable(tmp_path: Path) -> None:
    """Each class has its own session at its time, back to back too, and all wait for their review."""
    clock = HandClock()
    clock.jump(timedelta(minutes=-30))
    room = Room(tmp_path, timetable=True, clock=clock)
    begun: dict[str, str] = {}
    for minute in range(8 * 60 + 30):
        room.live.tick().result()
        session = room.live.state.session
        if session is not None:
            begun.setdefault(session.class_group, f"{session.opened_at:%H:%M}")
            if minute % 5 == 0:
                room.live.ask(PRAISE, Source.KEY).result()
        clock.go_on(60)
    assert begun == dict(
        zip(CLASSES.values(), ["08:00", "08:45", "09:45", "10:30", "13:00", "15:00"], strict=True)
    )
    assert room.live.state.session is None
    assert [summary.class_group for summary in room.live.state.waiting] == list(CLASSES.values())[::-1]
    assert all(summary.praise in (9, 10, 11) for summary in room.live.state.waiting)
    coming = room.live.state.coming
    assert coming is not None
    assert (coming.class_group, coming.begins.day) == ("4-Hazel", 21)
    room.live.stop()
    assert len(room.devices) == 6
    assert all(device.closed for device in room.devices)


def test_a_lesson_closed_early_by_hand_does_not_open_again(tmp_path: Path) -> None:
    """And one opened a little early is the timetable's own."""
    clock = HandClock()
    clock.jump(timedelta(minutes=-10))
    room = Room(tmp_path, timetable=True, clock=clock)
    assert room.live.open_lesson(Source.KEY).result().class_group == "4-Hazel"
    for minute in range(40):
        if minute == 30:
            room.live.close(Source.PAGE).result()
        clock.go_on(60)
        room.live.tick().result()
    with open_log(room.path) as log:
        assert [summary.class_group for summary in log.summaries()] == ["4-Hazel"]
    room.live.stop()
