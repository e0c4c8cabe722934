"""What a command causes in a lesson."""

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.conduct import SAME_MS, HeardPhrase, carry_out, in_vain, near_miss
from companion.lesson.fold import fold
from companion.lesson.mark import NoteKind, Source, table_scope
from companion.lesson.plan import Advance, Phase, Plan
from companion.lesson.session import Session
from companion.lesson.undo import undo_words

PLAN = Plan("garden", (Phase("arrival", 3), Phase("work time", 25), Phase("cleanup", 7)))
PRAISE, REMINDER = Command(Action.PRAISE), Command(Action.REMINDER)
HEARD = HeardPhrase("praise", 0.93, "phonemes")


class Lesson:
    """A lesson in which commands are carried out one after the other."""

    def __init__(self, plan: Plan = PLAN) -> None:
        """Open it, in the phase of arrival."""
        self.events: list[ev.Event] = []
        self.record(ev.SessionOpened("4-Hazel", plan), ev.PhaseBegan("arrival", 0, Source.CLOCK))

    @property
    def session(self) -> Session:
        """The lesson as its events tell it."""
        return fold(self.events)

    def record(self, *bodies: ev.Body) -> None:
        """Append events."""
        for body in bodies:
            seq = len(self.events) + 1
            self.events.append(ev.Event(f"e{seq}", "s", seq, datetime.now(UTC), 0, body))

    def ask(self, command: Command, at_ms: int, source: Source) -> tuple[ev.Body, ...]:
        """Carry out and record one command."""
        bodies = carry_out(self.session, command, at_ms, source, HEARD if source is Source.VOICE else None)
        self.record(*bodies)
        return bodies


@pytest.mark.parametrize("by_hand", [Source.KEY, Source.PAGE, Source.COMMAND_LINE])
def test_voice_and_hand_that_mean_the_same_mark_count_once(by_hand: Source) -> None:
    """Within two seconds the second source is noted as a double, whichever came first."""
    for first, second in ((Source.VOICE, by_hand), (by_hand, Source.VOICE)):
        lesson = Lesson()
        lesson.ask(PRAISE, 10_000, first)
        assert isinstance(lesson.ask(PRAISE, 10_000 + SAME_MS, second)[0], ev.MarkDoubled)
        assert lesson.session.praise == 1
        assert lesson.session.marks[0].doubled_by == (second,)


def test_a_phrase_that_is_decided_after_the_key_but_began_before_it_counts_once() -> None:
    """What counts is when a phrase began, not when it was recognised."""
    lesson = Lesson()
    lesson.ask(PRAISE, 10_000, Source.KEY)
    lesson.ask(PRAISE, 8_500, Source.VOICE)
    assert lesson.session.praise == 1


@pytest.mark.parametrize(
    ("command", "at_ms", "source"),
    [
        (PRAISE, 10_001 + SAME_MS, Source.KEY),
        (REMINDER, 10_500, Source.KEY),
        (Command(Action.PRAISE, scope=table_scope("four")), 10_500, Source.KEY),
        (PRAISE, 10_500, Source.VOICE),
    ],
)
def test_another_time_kind_scope_or_the_same_source_is_another_mark(
    command: Command, at_ms: int, source: Source
) -> None:
    """Only the same mark from the other side within two seconds is a double."""
    lesson = Lesson()
    lesson.ask(PRAISE, 10_000, Source.VOICE)
    assert isinstance(lesson.ask(command, at_ms, source)[0], ev.MarkMade)
    assert len(lesson.session.standing) == 2


@given(st.lists(st.tuples(st.integers(0, 20_000), st.sampled_from([Source.VOICE, Source.KEY])), max_size=25))
def test_every_press_and_phrase_is_either_a_mark_or_the_double_of_one(
    asked: list[tuple[int, Source]],
) -> None:
    """Nothing is lost, and no mark has more than one double from the other side."""
    lesson = Lesson()
    for at_ms, source in sorted(asked):
        lesson.ask(PRAISE, at_ms, source)
    marks = lesson.session.marks
    assert len(marks) + sum(len(mark.doubled_by) for mark in marks) == len(asked)
    assert all(len(mark.doubled_by) <= 1 for mark in marks)


def test_a_mark_after_an_undone_one_counts() -> None:
    """What was taken back does not swallow the next one."""
    lesson = Lesson()
    lesson.ask(PRAISE, 10_000, Source.VOICE)
    lesson.ask(Command(Action.UNDO), 10_500, Source.KEY)
    lesson.ask(PRAISE, 11_000, Source.KEY)
    assert lesson.session.praise == 1


def test_next_phase_goes_on_from_the_phase_in_force_and_ends_with_the_plan() -> None:
    """A named phase may be anywhere in the plan; next phase is its neighbour, and none after the last."""
    lesson = Lesson()
    lesson.ask(Command(Action.PHASE, phase="work time"), 60_000, Source.VOICE)
    lesson.ask(Command(Action.NEXT_PHASE), 120_000, Source.KEY)
    assert lesson.ask(Command(Action.NEXT_PHASE), 180_000, Source.KEY) == ()
    assert lesson.ask(Command(Action.PHASE, phase="recess"), 190_000, Source.KEY) == ()
    assert lesson.ask(Command(Action.PHASE, phase="cleanup"), 195_000, Source.KEY) == ()
    assert [span.name for span in lesson.session.phases] == ["arrival", "work time", "cleanup"]


def test_two_sources_that_move_on_at_once_mean_one_phase() -> None:
    """Within two seconds; one source twice means two, and the phase that the lesson begins in is no step."""
    for first, second in ((Source.VOICE, Source.KEY), (Source.KEY, Source.PAGE)):
        for later_ms, moves in ((-SAME_MS, False), (0, False), (SAME_MS, False), (SAME_MS + 1, True)):
            lesson = Lesson()
            lesson.ask(Command(Action.NEXT_PHASE), 60_000, first)
            asked = lesson.ask(Command(Action.NEXT_PHASE), 60_000 + later_ms, second)
            assert [body.phase for body in asked if isinstance(body, ev.PhaseBegan)] == ["cleanup"] * moves
    twice = Lesson()
    for at_ms in (60_000, 60_500):
        assert twice.ask(Command(Action.NEXT_PHASE), at_ms, Source.KEY)
    assert Lesson().ask(Command(Action.NEXT_PHASE), 500, Source.KEY)


@pytest.mark.parametrize("asked", [Command(Action.NEXT_PHASE), Command(Action.PHASE, phase="work time")])
@pytest.mark.parametrize("later_ms", [-SAME_MS, 0, SAME_MS])
def test_undo_of_a_phase_that_the_clock_had_just_begun_takes_no_mark_back(
    asked: Command, later_ms: int
) -> None:
    """What was asked for is what was done last: it changed nothing, and so does taking it back."""
    lesson = Lesson()
    lesson.ask(PRAISE, 100_000, Source.VOICE)
    lesson.record(ev.PhaseBegan("work time", 180_000, Source.CLOCK))
    assert lesson.ask(asked, 180_000 + later_ms, Source.VOICE) == (
        ev.AskedAgain(asked, 180_000 + later_ms, Source.VOICE),
    )
    assert lesson.ask(asked, 180_000 + later_ms, Source.KEY) == ()
    name = asked.phase or "next phase"
    assert undo_words(lesson.session) == f"“{name}”, which changed nothing"
    lesson.ask(Command(Action.UNDO), 190_000, Source.VOICE)
    assert (lesson.session.praise, lesson.session.vain_undos) == (1, 1)
    assert [span.name for span in lesson.session.phases] == ["arrival", "work time"]
    lesson.ask(Command(Action.UNDO), 195_000, Source.VOICE)
    assert (lesson.session.praise, lesson.session.vain_undos) == (0, 1)


def test_undo_by_voice_and_by_hand_at_once_is_one() -> None:
    """Within two seconds, and where nothing was done between them; one side twice means two."""
    undo = Command(Action.UNDO)
    for first, second in ((Source.VOICE, Source.KEY), (Source.PAGE, Source.VOICE)):
        lesson = Lesson()
        for at_ms in (10_000, 20_000, 30_000):
            lesson.ask(PRAISE, at_ms, Source.KEY)
        lesson.ask(undo, 40_000, first)
        assert lesson.ask(undo, 40_000 + SAME_MS, second) == ()
        assert lesson.session.praise == 2
        assert lesson.ask(undo, 40_001 + SAME_MS, second)
        lesson.ask(REMINDER, 43_000, first)
        assert lesson.ask(undo, 43_500, first)
        assert (lesson.session.praise, lesson.session.reminder) == (1, 0)
    twice = Lesson()
    for at_ms in (10_000, 20_000):
        twice.ask(PRAISE, at_ms, Source.KEY)
    for at_ms in (30_000, 30_500):
        twice.ask(undo, at_ms, Source.KEY)
    assert twice.session.praise == 0


def test_what_the_last_step_has_brought_about_is_taken_back_though_it_was_asked_for_again() -> None:
    """The phase in force, or the pause; where the clock or a mark came between, nothing is taken back."""
    for command, again in (
        (Command(Action.NEXT_PHASE), Command(Action.PHASE, phase="work time")),
        (Command(Action.PAUSE), Command(Action.PAUSE)),
    ):
        lesson = Lesson()
        lesson.ask(command, 60_000, Source.KEY)
        assert lesson.ask(again, 70_000, Source.KEY) == ()
        lesson.ask(PRAISE, 80_000, Source.KEY)
        assert lesson.ask(again, 90_000, Source.KEY) == (ev.AskedAgain(again, 90_000, Source.KEY),)
        lesson.ask(Command(Action.UNDO), 95_000, Source.KEY)
        assert lesson.session.praise == 1
    lesson = Lesson()
    lesson.ask(Command(Action.NEXT_PHASE), 60_000, Source.KEY)
    lesson.record(ev.PhaseBegan("cleanup", 120_000, Source.CLOCK))
    lesson.ask(Command(Action.PHASE, phase="cleanup"), 120_500, Source.VOICE)
    lesson.ask(Command(Action.UNDO), 125_000, Source.VOICE)
    assert [span.name for span in lesson.session.phases] == ["arrival", "work time", "cleanup"]
    lesson.ask(Command(Action.RESUME), 130_000, Source.KEY)
    assert undo_words(lesson.session) == "“resume listening”, which changed nothing"


def test_the_first_phase_follows_the_opening() -> None:
    """Where no phase has begun, next phase is the first of the plan, whoever asks."""
    opened = fold([ev.Event("e1", "s", 1, datetime.now(UTC), 0, ev.SessionOpened("4-Hazel", PLAN))])
    for source in (Source.KEY, Source.VOICE):
        assert carry_out(opened, Command(Action.NEXT_PHASE), 1_000, source) == (
            ev.PhaseBegan("arrival", 1_000, source),
        )


@pytest.mark.parametrize(
    ("advance", "moves"),
    [((), set()), ((Advance.PHRASE,), {Source.VOICE}), ((Advance.CLOCK,), {Source.CLOCK})],
)
def test_each_phase_says_whether_phrase_or_clock_may_end_it(
    advance: tuple[Advance, ...], moves: set[Source]
) -> None:
    """A key and the page always may."""
    plan = Plan("garden", (Phase("arrival", 3, advance=advance), Phase("work time", 25)))
    for source in (Source.VOICE, Source.CLOCK, Source.KEY, Source.PAGE):
        lesson = Lesson(plan)
        moved = lesson.ask(Command(Action.NEXT_PHASE), 60_000, source)
        assert bool(moved) is (source in moves | {Source.KEY, Source.PAGE})


def test_what_the_lesson_cannot_do_is_in_vain_and_what_is_so_already_is_not() -> None:
    """By each kind of command that may give no event."""
    lesson = Lesson()
    names = [phase.name for phase in PLAN.phases]
    last = Command(Action.PHASE, phase=names[-1])
    go_on = Command(Action.NEXT_PHASE)
    assert not in_vain(lesson.session, go_on, 1_000, Source.KEY)
    lesson.ask(last, 10_000, Source.KEY)
    assert in_vain(lesson.session, go_on, 60_000, Source.KEY)
    assert not in_vain(lesson.session, go_on, 10_500, Source.PAGE)
    assert not in_vain(lesson.session, last, 60_000, Source.KEY)
    assert in_vain(lesson.session, Command(Action.PHASE, phase="kiln"), 60_000, Source.KEY)
    assert in_vain(lesson.session, Command(Action.TELL), 60_000, Source.KEY)
    assert not in_vain(lesson.session, Command(Action.RESUME), 60_000, Source.KEY)


def test_a_voice_asks_in_vain_where_only_the_clock_moves_the_lesson_on() -> None:
    """It is told so, whichever phase it asks for."""
    by_clock = Phase("arrival", 3, advance=(Advance.CLOCK,))
    session = Lesson(Plan("garden", (by_clock, *PLAN.phases[1:]))).session
    for command in (Command(Action.NEXT_PHASE), Command(Action.PHASE, phase="cleanup")):
        assert in_vain(session, command, 60_000, Source.VOICE)
        assert not in_vain(session, command, 60_000, Source.KEY)


def test_pause_and_resume_change_something_only_once() -> None:
    """A second pause is nothing to record; a resume without one is only what was done last."""
    lesson, resume = Lesson(), Command(Action.RESUME)
    assert lesson.ask(resume, 1_000, Source.KEY) == (ev.AskedAgain(resume, 1_000, Source.KEY),)
    assert lesson.ask(Command(Action.PAUSE), 2_000, Source.VOICE)
    assert lesson.ask(Command(Action.PAUSE), 3_000, Source.KEY) == ()
    assert lesson.ask(Command(Action.RESUME), 4_000, Source.KEY)
    assert not lesson.session.paused


def test_a_note_says_its_kind_and_a_near_miss_what_it_would_have_been() -> None:
    """Neither moves the count."""
    lesson = Lesson()
    lesson.ask(Command(Action.NOTE, note=NoteKind.HEALTH_OFFICE), 1_000, Source.VOICE)
    lesson.record(near_miss(PRAISE, 2_000, HEARD))
    session = lesson.session
    assert [note.kind for note in session.notes] == [NoteKind.HEALTH_OFFICE]
    assert [miss.phrase for miss in session.near_misses] == ["praise"]
    assert session.margin == 0
