"""The pages of a running companion: what they can open, and by which clock they go."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.lesson.command import Action, Command
from companion.lesson.mark import Source
from companion.lesson.opening import Opening
from companion.live.live import Live
from companion.live.pages_port import LivePort
from companion.pages.port import LogPort
from companion.settings.settings import parse_settings
from companion.sounding.sounds import Tone
from tests.school_day import CLASSES, SETTINGS, HandClock, settings

WISH, OTHER = "01JD0000000000000000000000", "01JD0000000000000000000001"
THIRD, FOURTH = "01JD0000000000000000000002", "01JD0000000000000000000003"


@pytest.fixture
def clock() -> HandClock:
    """Give a clock that stands at ten minutes to eight on a Monday."""
    clock = HandClock()
    clock.jump(timedelta(minutes=-10))
    return clock


@pytest.fixture
def live(tmp_path: Path, clock: HandClock) -> Iterator[Live]:
    """Give a running companion with a timetable and no ears."""
    live = Live(tmp_path / "sessions.db", settings(timetable=True), clock=clock)
    live.start()
    yield live
    live.stop()


@pytest.fixture
def port(live: Live, tmp_path: Path, clock: HandClock) -> LivePort:
    """Give its pages' port."""
    return LivePort(live, lambda: None, LogPort(tmp_path / "sessions.db", clock.wall))


def test_the_coming_class_is_offered_on_its_day_only(port: LivePort, live: Live, clock: HandClock) -> None:
    """Before eight it is the first one; when the day is over, nobody; plans and classes are always there."""
    choice = port.choice()
    assert choice.coming is not None
    assert choice.coming.class_group == "4-Hazel"
    assert set(choice.class_groups) == set(CLASSES.values())
    assert choice.plans == ("garden",)
    clock.go_on(12 * 3600)
    live.tick().result()
    assert port.choice().coming is None


def test_a_wish_that_comes_again_opens_no_second_session(port: LivePort) -> None:
    """A page whose answer was lost sends its wish anew; another wish is another session."""
    first = port.open("5-Oak", None, "hall", request=WISH)
    assert (first.class_group, first.room) == ("5-Oak", "hall")
    assert port.open("5-Oak", None, "hall", request=WISH).id == first.id
    unnamed = port.open("", None, "", request=OTHER)
    assert (unnamed.class_group, unnamed.room) == ("unplanned", "garden and kitchen")


def test_the_open_session_goes_by_the_steady_clock(port: LivePort, live: Live, clock: HandClock) -> None:
    """Somebody sets the computer's clock in mid-lesson: the page's minutes and its close stay right."""
    session = live.open(Opening("4-Hazel"), Source.PAGE).result()
    clock.go_on(60)
    clock.jump(timedelta(hours=2))
    assert port.now_ms(session) == 60_000
    closed = port.close(session.id, request=WISH)
    assert closed.closed_ms == 60_000
    assert port.now_ms(closed) == 2 * 3_600_000 + 60_000


def test_a_press_that_came_late_counts_in_the_phase_in_which_it_was_made(
    port: LivePort, live: Live, clock: HandClock
) -> None:
    """The page had to try again while the lesson went on."""
    session = live.open(Opening("4-Hazel"), Source.PAGE).result()
    clock.go_on(60)
    live.ask(Command(Action.NEXT_PHASE), Source.KEY).result()
    clock.go_on(10)
    marked = port.submit(session.id, Command(Action.PRAISE), request=WISH, ago_s=25.0)
    assert [(mark.at_ms, mark.phase) for mark in marked.marks] == [(45_000, "arrival")]


def test_the_timetables_class_is_not_opened_over_itself(port: LivePort, live: Live) -> None:
    """The command without a name says that the class is there already; nothing is closed."""
    session = live.open_lesson(Source.COMMAND_LINE).result()
    with pytest.raises(CompanionError, match="4-Hazel is open already"):
        live.open_lesson(Source.COMMAND_LINE).result()
    assert port.now_ms(session) == 0


def test_undo_on_the_page_takes_back_the_end_of_the_lesson(
    port: LivePort, live: Live, clock: HandClock
) -> None:
    """It goes on again, for keys and pages alike; a wish that comes again does nothing."""
    session = port.open("5-Oak", None, "", request=WISH)
    port.submit(session.id, Command(Action.PRAISE), request=OTHER)
    clock.go_on(30)
    port.close(session.id, request=THIRD)
    for _ in range(2):
        undone = port.submit(session.id, Command(Action.UNDO), request=FOURTH)
        assert (undone.closed, undone.praise) == (False, 1)
    assert live.state.session is not None
    assert live.state.session.id == session.id
    assert live.ask(Command(Action.PRAISE), Source.KEY).result() is not None


def test_a_nudge_is_in_the_status_only_where_it_was_asked_for(tmp_path: Path, clock: HandClock) -> None:
    """Off as it comes; with the wish in the settings it comes in its time."""
    for wish, said in (("", ""), ("[nudge]\nno_praise_minutes = 5\n", "No praise for 6 minutes.")):
        log = tmp_path / f"{len(wish)}.db"
        live = Live(log, parse_settings(SETTINGS + wish, "test.toml"), clock=clock)
        live.start()
        session = live.open(Opening("4-Hazel"), Source.KEY).result()
        clock.go_on(6 * 60)
        live.tick().result()
        assert LivePort(live, lambda: None, LogPort(log, clock.wall)).status(session.id).nudge == said
        live.stop()


class Told:
    """Keeps the tones that were to sound."""

    volume = 1.0

    def __init__(self) -> None:
        """Nothing sounded yet."""
        self.tones: list[Tone] = []

    def play(self, tone: Tone) -> None:
        """Keep `tone`."""
        self.tones.append(tone)

    def wake(self) -> None:
        """Be ready."""

    def close(self) -> None:
        """Have nothing to end."""


def test_a_nudge_sounds_softly_once_where_a_tone_was_asked_for(tmp_path: Path, clock: HandClock) -> None:
    """Without that wish only the line comes; the tone does not come again with each minute."""
    for tone, sounded in (("false", []), ("true", [Tone.NUDGE])):
        told = Told()
        wish = f"[nudge]\nno_praise_minutes = 5\ntone = {tone}\n"
        parsed = parse_settings(SETTINGS + wish, "test.toml")
        live = Live(tmp_path / f"{tone}.db", parsed, tones=told, clock=clock)  # type: ignore[arg-type]
        live.start()
        live.open(Opening("4-Hazel"), Source.KEY).result()
        for minutes in (4, 1, 1, 1):
            clock.go_on(60 * minutes)
            live.tick().result()
        assert told.tones == sounded
        live.stop()
