"""Undo takes back what was done last, whatever it was, and says so."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.lesson import aftercare
from companion.lesson import event as ev
from companion.lesson.carry_over import CarriedOver
from companion.lesson.command import Action, Command
from companion.lesson.conduct import carry_out
from companion.lesson.fold import fold
from companion.lesson.mark import FamilyContact, Kind, MarkState, NoteKind, Source
from companion.lesson.refusal import refusal
from companion.lesson.session import Session
from companion.lesson.undo import last_step, reopens, take_back, taken_back_words, undo_words
from tests.lesson.builders import AT, OPENED, PLAN, began, praise, reminder

PHASES = [phase.name for phase in PLAN]
KEY, VOICE, CLOCK = Source.KEY, Source.VOICE, Source.CLOCK
NOTE = ev.NoteOpened(NoteKind.OTHER, 50_000, KEY)
CONTACT = FamilyContact("the teacher", "phone", due=date(2026, 9, 18))


class Lesson:
    """A lesson told step by step; what is recorded together is one batch."""

    def __init__(self, *bodies: ev.Body) -> None:
        """Open it in arrival, then record each of `bodies` on its own."""
        self.events: list[ev.Event] = []
        self.record(OPENED, began("arrival", 0, CLOCK))
        for body in bodies:
            self.record(body)

    def record(self, *bodies: ev.Body) -> Session:
        """Record `bodies` in one step; each must be one that the session takes."""
        at, batch = AT + timedelta(seconds=len(self.events)), f"e{len(self.events) + 1}"
        for body in bodies:
            assert not self.events or refusal(self.session, body) is None, body
            seq = len(self.events) + 1
            self.events.append(ev.Event(f"e{seq}", "s", seq, at, 1000 * seq, body, batch))
        return self.session

    def undo(self, source: Source = KEY) -> Session:
        """Ask for undo as any source does."""
        return self.record(*carry_out(self.session, Command(Action.UNDO), 99_000, source))

    @property
    def session(self) -> Session:
        """The lesson as its events tell it."""
        return fold(self.events)


@pytest.mark.parametrize("source", [Source.VOICE, Source.KEY, Source.PAGE, Source.COMMAND_LINE])
def test_a_private_note_is_taken_back_and_not_the_praise_before_it(source: Source) -> None:
    """By voice, key, page and command line alike."""
    session = Lesson(praise(10_000), NOTE).undo(source)
    assert session.notes == ()
    assert session.praise == 1
    assert taken_back_words(session) == "a private note begun"


def test_a_phase_taken_back_gives_its_marks_to_the_phase_before() -> None:
    """The reminder stays, and it is one of arrival again."""
    lesson = Lesson(began("work time", 60_000, KEY), reminder(61_000))
    lesson.record(began("cleanup", 62_000, KEY))
    assert [mark.phase for mark in lesson.undo().marks] == ["work time"]
    assert lesson.session.phase is not None
    assert lesson.session.phase.name == "work time"
    lesson = Lesson(reminder(61_000), began("work time", 60_000, VOICE))
    session = lesson.undo()
    assert [(mark.phase, mark.state.stands) for mark in session.marks] == [("arrival", True)]
    assert taken_back_words(session) == "the phase work time"


def test_undo_goes_on_to_the_step_before_and_then_has_nothing() -> None:
    """The phase that the lesson began in stays, and an undo in vain takes nothing later with it."""
    lesson = Lesson(praise(1_000), began("work time", 2_000, KEY), reminder(3_000))
    lesson.undo()
    lesson.undo()
    session = lesson.undo()
    assert [mark.state for mark in session.marks] == [MarkState.UNDONE, MarkState.UNDONE]
    assert [span.name for span in session.phases] == ["arrival"]
    assert (undo_words(session), session.vain_undos) == ("", 0)
    session = lesson.undo()
    assert session.vain_undos == 1
    assert lesson.record(praise(9_000)).praise == 1


def test_a_phase_that_the_plans_clock_began_is_no_step() -> None:
    """Nobody did it, and the clock would only do it again."""
    session = Lesson(praise(1_000), began("work time", 2_000, CLOCK)).undo()
    assert session.praise == 0
    assert [span.name for span in session.phases] == ["arrival", "work time"]


def test_an_undone_mark_can_be_taken_in_again_by_the_review() -> None:
    """It is there as undone; and undo takes that back, too."""
    lesson = Lesson(praise(1_000))
    lesson.undo()
    lesson.record(ev.MarkRestored("m3"))
    assert lesson.session.praise == 1
    session = lesson.undo()
    assert (session.praise, session.marks[0].state) == (0, MarkState.UNDONE)


def test_the_end_of_the_lesson_is_taken_back_with_the_gap_in_sight() -> None:
    """The lesson goes on where it was; the review names the stretch that nobody heard."""
    lesson = Lesson(praise(1_000), ev.SessionClosed(30_000, KEY))
    assert reopens(lesson.session, take_back(lesson.session, 40_000, KEY))
    session = lesson.record(ev.LastTakenBack((4,), 40_000, KEY))
    assert not session.closed
    assert [(gap.began_ms, gap.ended_ms) for gap in session.unheard] == [(30_000, 40_000)]
    assert taken_back_words(session) == "the end of the lesson"


def test_a_pause_taken_back_ends_it_and_its_end_taken_back_begins_it() -> None:
    """What was not heard stays known as not heard."""
    lesson = Lesson(ev.ListeningPaused(10_000, VOICE))
    session = lesson.undo()
    assert not session.paused
    assert [(gap.began_ms, gap.ended_ms) for gap in session.pauses] == [(10_000, 99_000)]
    lesson = Lesson(ev.ListeningPaused(10_000, VOICE), ev.ListeningResumed(20_000, KEY))
    assert lesson.undo().paused


def test_a_class_named_with_its_first_phase_is_one_step() -> None:
    """Several marks kept at once are one as well; marks made in one moment never are."""
    lesson = Lesson()
    lesson.record(ev.ClassGroupNamed("2-Birch"), began("work time", 1_000, Source.PAGE))
    session = lesson.undo()
    assert (session.class_group, [span.name for span in session.phases]) == ("4-Hazel", ["arrival"])
    lesson = Lesson()
    lesson.record(praise(1_000), praise(5_000))
    lesson.record(ev.MarkKept("m3"), ev.MarkKept("m4"))
    session = lesson.undo()
    assert [mark.state for mark in session.marks] == [MarkState.UNREVIEWED, MarkState.UNREVIEWED]
    assert taken_back_words(session) == "2 steps of the review"
    assert lesson.undo().praise == 1


@pytest.mark.parametrize(
    ("together", "left"),
    [
        ((ev.MarkKept("m3"), ev.TeacherViewed("calm")), ev.MarkKept),
        ((ev.TeacherViewed("calm"), ev.MarkKept("m3")), ev.TeacherViewed),
        ((ev.ClassGroupNamed("2-Birch"), ev.TeacherViewed("calm")), ev.ClassGroupNamed),
    ],
)
def test_what_was_recorded_together_and_is_no_one_step_is_taken_back_one_by_one(
    together: tuple[ev.Body, ...], left: type[ev.Body]
) -> None:
    """Only steps of the review belong together, and a name with its first phase."""
    lesson = Lesson(praise(1_000))
    lesson.record(*together)
    assert isinstance(lesson.undo().done[-1].body, left)


def test_only_the_end_of_the_lesson_opens_it_again() -> None:
    """Whatever else is taken back leaves it over."""
    session = Lesson(praise(1_000), ev.SessionClosed(30_000, KEY), ev.TeacherViewed("calm")).session
    assert not reopens(session, take_back(session, 40_000, KEY))
    assert reopens(session, ev.LastTakenBack((4, 5), 40_000, KEY))
    assert not reopens(session, ev.EventTakenBack(4))


def test_said_is_taken_back_and_waits_again() -> None:
    """As anything else."""
    opened = ev.SessionOpened("4-Hazel", PLAN, waiting=(CarriedOver("old", "Close the tap."),))
    lesson = Lesson()
    lesson.events[0] = ev.Event("e1", "s", 1, AT, 0, opened)
    assert lesson.record(ev.CarryOverSaid("old")).to_say == ()
    assert lesson.undo().to_say == opened.waiting


def test_after_settling_undo_takes_back_only_what_was_done_since() -> None:
    """The count stays settled; a note thrown away comes back."""
    lesson = Lesson(praise(1_000), NOTE, ev.SessionClosed(60_000, KEY), ev.SessionSettled())
    assert last_step(lesson.session) == ()
    assert refusal(lesson.session, take_back(lesson.session, 1, KEY)) is not None
    lesson.record(ev.NoteDropped("n4"))
    session = lesson.undo()
    assert [note.id for note in session.notes] == ["n4"]
    assert session.settled
    assert refusal(session, ev.LastTakenBack((3,), 1, KEY)) is not None


def test_undo_of_older_logs_takes_back_the_newest_mark() -> None:
    """They keep folding to what they were."""
    session = Lesson(praise(1_000), NOTE, ev.UndoAsked(60_000, KEY)).session
    assert (session.praise, len(session.notes)) == (0, 1)


def test_what_undo_says_names_no_child() -> None:
    """A page for the class may show it."""
    lesson = Lesson(NOTE)
    lesson.record(ev.NoteCompleted("n3", "K. T.", NoteKind.OTHER, "a secret", CONTACT))
    assert undo_words(lesson.session) == "a private note completed"
    lesson.record(aftercare.PromiseKept("n3", date(2026, 9, 15), "K. T. is well"))
    assert undo_words(lesson.session) == "a promise kept"


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (praise(61_000), "the praise in arrival, 1:01"),
        (ev.MarkAdded(Kind.REMINDER, "cleanup"), "the reminder added in cleanup"),
        (began("cleanup", 2_000, KEY), "the phase cleanup"),
        (ev.ClassGroupNamed("2-Birch"), "the name 2-Birch"),
        (ev.CarryOverSaid(), "“said”"),
        (ev.SelfRated("so-so"), "the class's own rating"),
        (aftercare.AwardBroughtBack("before"), "an award that came back"),
        (ev.ListeningPaused(1, KEY), "the pause of listening"),
        (ev.SessionClosed(9_000, KEY), "the end of the lesson"),
    ],
)
def test_undo_says_what_it_would_take_back_and_what_it_took(body: ev.Body, words: str) -> None:
    """In the words of the lesson."""
    lesson = Lesson(body)
    assert undo_words(lesson.session) == words
    assert taken_back_words(lesson.undo()) == words


def test_undo_says_how_many_marks_were_told() -> None:
    """And a mark before the first phase is in none."""
    held = ev.MarkMade(Kind.PRAISE, 1_000, KEY, held=True)
    assert undo_words(Lesson(held, ev.MarksTold(("m3",), 2_000, KEY)).session) == "the telling of 1 mark"
    bodies: tuple[ev.Body, ...] = (OPENED, praise(5))
    early = fold(ev.Event(f"e{seq}", "s", seq, AT, 0, body) for seq, body in enumerate(bodies, start=1))
    assert undo_words(early) == "the praise, 0:00"


def ended_once(steps: list[ev.Body]) -> list[ev.Body]:
    """Return `steps` without a second end of the lesson."""
    ends = [number for number, body in enumerate(steps) if isinstance(body, ev.SessionClosed)]
    return [body for number, body in enumerate(steps) if number not in ends[1:]]


STEPS = st.lists(
    st.one_of(
        st.builds(praise, st.integers(0, 90_000)),
        st.builds(reminder, st.integers(0, 90_000)),
        st.builds(
            began, st.sampled_from([phase.name for phase in PLAN]), st.integers(0, 90_000), st.just(KEY)
        ),
        st.just(NOTE),
        st.just(ev.ListeningPaused(1, KEY)),
        st.just(ev.TeacherViewed("calm")),
        st.just(ev.SessionClosed(90_000, KEY)),
        st.builds(ev.MarkAdded, st.sampled_from(Kind), st.just("arrival")),
        st.just(aftercare.NoteHandedOver(aftercare.HandOver.GIVEN)),
    ),
    max_size=12,
).map(ended_once)


@given(STEPS)
def test_as_many_undos_as_steps_lead_back_to_the_beginning(steps: list[ev.Body]) -> None:
    """Nothing stands, nothing is noted, and the lesson is in its first phase; one more is in vain."""
    lesson = Lesson(*steps)
    for _ in steps:
        lesson.undo()
    session = lesson.session
    assert (session.standing, session.notes, session.teacher_view) == ((), (), "")
    assert [span.name for span in session.phases] == ["arrival"]
    assert not session.closed
    assert not session.paused
    assert session.vain_undos == 0
    assert lesson.undo().vain_undos == 1


@given(STEPS, st.lists(st.integers(1, 20), max_size=4))
def test_taking_back_numbers_that_are_no_steps_folds_all_the_same(
    steps: list[ev.Body], numbers: list[int]
) -> None:
    """A log that was cut or merged is still read."""
    lesson = Lesson(*steps)
    seq = len(lesson.events) + 1
    lesson.events.append(ev.Event("x", "s", seq, AT, 0, ev.LastTakenBack(tuple(numbers), 1, KEY)))
    assert fold(lesson.events).vain_undos == (0 if numbers else 1)
