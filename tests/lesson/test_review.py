"""What a step of the review means, whoever asks for it."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.errors import CompanionError
from companion.lesson import event as ev
from companion.lesson import review
from companion.lesson.command import Action, Command
from companion.lesson.doubts import review_list
from companion.lesson.event import Body
from companion.lesson.fold import fold
from companion.lesson.mark import Kind, MarkState, NoteKind, Source
from companion.lesson.refusal import refusal
from companion.lesson.session import Session
from companion.lesson.truly_said import truly_said
from tests.lesson.builders import AT, began, events, praise, reminder, told

MISSED = ev.NearMissHeard("table one praise", 130_000, 0.4, Command(Action.PRAISE, scope="table one"))
LESSON = (
    began("arrival", 0),
    praise(30_000),
    reminder(50_000, 0.55),
    began("work time", 60_000),
    praise(65_000),
    praise(200_000),
    ev.UndoAsked(201_000, Source.KEY),
    MISSED,
    ev.SessionClosed(300_000, Source.KEY),
)
"""Marks m3, m4 (unsure), m6 (just after a phase change) and m7 (undone), near miss c9."""


def taken(session: Session, *steps: tuple[Body, ...]) -> Session:
    """Return `session` of LESSON after `steps`, each recorded together."""
    told_so_far = events(*LESSON)
    assert fold(told_so_far) == session
    for number, step in enumerate(steps):
        for body in step:
            assert refusal(fold(told_so_far), body) is None
            seq = len(told_so_far) + 1
            told_so_far.append(ev.Event(f"e{seq}", "s", seq, AT, 300_000, body, batch=f"step {number}"))
    return fold(told_so_far)


@pytest.fixture
def lesson() -> Session:
    """Return the lesson before its review."""
    return told(*LESSON)


def test_keeping_accepts_each_mark_once(lesson: Session) -> None:
    """What was looked at already is left alone, also when it is named twice."""
    assert review.keep(lesson, ["m3", "m4", "m3"]) == (ev.MarkKept("m3"), ev.MarkKept("m4"))
    kept = taken(lesson, review.keep(lesson, ["m3"]))
    assert review.keep(kept, ["m3"]) == ()


def test_keeping_never_raises_the_count(lesson: Session) -> None:
    """A mark that was undone or dropped is refused, with the way to take it in again."""
    with pytest.raises(CompanionError, match="m7 does not count: it was undone") as refused:
        review.keep(lesson, ["m3", "m7"])
    assert "Restore" in refused.value.remedy
    dropped = taken(lesson, review.drop(lesson, ["m3"]))
    with pytest.raises(CompanionError, match="it was dropped"):
        review.keep(dropped, ["m3"])


@pytest.mark.parametrize("body", [ev.MarkKept("m7"), ev.MarkChanged("m7", kind=Kind.REMINDER)])
def test_an_old_window_can_not_raise_the_count_either(lesson: Session, body: Body) -> None:
    """The session itself refuses to keep or change what does not stand."""
    assert refusal(lesson, body) == "the mark 'm7' does not count; it has to be restored first"


def test_one_mark_that_is_not_there_stops_the_whole_step(lesson: Session) -> None:
    """All or none: nothing is dropped, restored, kept, moved, confirmed or dismissed then."""
    steps: tuple[Callable[[], object], ...] = (
        lambda: review.keep(lesson, ["m3", "m99"]),
        lambda: review.drop(lesson, ["m3", "m99"]),
        lambda: review.restore(lesson, ["m7", "m99"]),
        lambda: review.earlier(lesson, ["m6", "m99"]),
        lambda: review.change(lesson, "m99", kind=Kind.PRAISE),
        lambda: review.confirm(lesson, ["c9", "c99"]),
        lambda: review.dismiss(lesson, ["c9", "c99"]),
    )
    for step in steps:
        with pytest.raises(CompanionError, match=r"There is no .* '[cm]99' in this session") as refused:
            step()
        assert refused.value.safe == "Nothing was changed."


def test_all_that_is_left_or_only_what_is_clear_is_accepted_at_once(lesson: Session) -> None:
    """The clear ones leave what is in doubt for a look; marks that don't stand stay out of both."""
    assert review.keep_clear(lesson) == (ev.MarkKept("m3"),)
    assert review.keep_all(lesson) == (ev.MarkKept("m3"), ev.MarkKept("m4"), ev.MarkKept("m6"))


def test_dropping_and_restoring_leave_alone_what_is_so_already(lesson: Session) -> None:
    """An undone mark need not be dropped, and a standing one not restored."""
    assert review.drop(lesson, ["m3", "m7", "m3"], "a child") == (ev.MarkDropped("m3", "a child"),)
    assert review.restore(lesson, ["m3", "m7", "m7"]) == (ev.MarkRestored("m7"),)


def test_changing_records_only_what_differs(lesson: Session) -> None:
    """A routine is taken away with an empty word; what is as it was stays unsaid."""
    assert review.change(
        lesson, "m4", kind=Kind.REMINDER, phase="work time", scope="class", routine="tools back"
    ) == (ev.MarkChanged("m4", phase="work time", routine="tools back"),)
    changed = taken(lesson, review.change(lesson, "m4", routine="tools back", scope="table two"))
    assert review.change(changed, "m4", routine="") == (ev.MarkChanged("m4", routine=""),)
    assert review.change(changed, "m4", routine="tools back", scope="table two") == ()
    assert review.change(changed, "m4", kind=Kind.PRAISE) == (ev.MarkChanged("m4", kind=Kind.PRAISE),)


def test_saying_what_a_mark_is_already_accepts_it(lesson: Session) -> None:
    """It was looked at, and it was right."""
    assert review.change(lesson, "m3", kind=Kind.PRAISE) == (ev.MarkKept("m3"),)
    assert review.change(lesson, "m3", routine="") == (ev.MarkKept("m3"),)


@pytest.mark.parametrize("step", [review.change, review.flip, review.turn])
def test_what_does_not_stand_is_not_changed(lesson: Session, step: object) -> None:
    """It would count again without a word of it."""
    assert callable(step)
    with pytest.raises(CompanionError, match="does not count"):
        step(lesson, "m7")


def test_an_individual_note_is_thrown_away_like_a_mark(lesson: Session) -> None:
    """Marks and notes may be dropped in one step."""
    noted = told(*LESSON, ev.NoteOpened(NoteKind.OTHER, 250_000, Source.KEY))
    assert review.drop(noted, ["n11", "m3", "n11"]) == (ev.MarkDropped("m3"), ev.NoteDropped("n11"))
    with pytest.raises(CompanionError, match="'n11'"):
        review.drop(lesson, ["n11"])


def test_flipping_makes_the_other_kind(lesson: Session) -> None:
    """Both ways."""
    assert review.flip(lesson, "m3") == (ev.MarkChanged("m3", kind=Kind.REMINDER),)
    assert review.flip(lesson, "m4") == (ev.MarkChanged("m4", kind=Kind.PRAISE),)


def test_turning_goes_through_all_readings_and_back(lesson: Session) -> None:
    """One button reaches every kind and phase that the mark may have meant."""
    session, seen, steps = lesson, [], []
    for _ in range(4):
        steps.append(review.turn(session, "m6"))
        session = taken(lesson, *steps)
        mark = session.mark("m6")
        assert mark is not None
        seen.append((mark.kind, mark.phase))
    assert set(seen) == {(kind, phase) for kind in Kind for phase in ("arrival", "work time")}
    assert seen[-1] == (Kind.PRAISE, "work time")
    before_the_first = told(praise(5))
    assert review.turn(before_the_first, "m2") == (ev.MarkChanged("m2", kind=Kind.REMINDER),)


def test_only_a_mark_just_after_a_phase_change_moves_to_the_phase_before(lesson: Session) -> None:
    """Named twice, it moves once."""
    assert review.earlier(lesson, ["m6", "m6"]) == (ev.MarkChanged("m6", phase="arrival"),)
    with pytest.raises(CompanionError, match="m3 does not stand just after a phase change") as refused:
        review.earlier(lesson, ["m6", "m3"])
    assert refused.value.safe
    assert refused.value.remedy


def test_a_missed_mark_is_added_where_the_teacher_puts_it() -> None:
    """At its time, or at the beginning of its phase; an empty routine is none."""
    added = review.add(Kind.PRAISE, "arrival", at_ms=12_500, scope="part of the class", routine="walk in")
    assert added == (ev.MarkAdded(Kind.PRAISE, "arrival", 12_500, "part of the class", "walk in"),)
    assert review.add(Kind.REMINDER, "work time", routine="") == (ev.MarkAdded(Kind.REMINDER, "work time"),)


def test_a_near_miss_is_confirmed_as_it_was_heard_or_as_the_teacher_says(lesson: Session) -> None:
    """Named twice, it makes one mark."""
    assert review.confirm(lesson, ["c9", "c9"]) == (ev.NearMissConfirmed("c9", Kind.PRAISE),)
    assert review.confirm(lesson, ["c9"], Kind.REMINDER, "arrival") == (
        ev.NearMissConfirmed("c9", Kind.REMINDER, "arrival"),
    )
    assert review.dismiss(lesson, ["c9", "c9"]) == (ev.NearMissDismissed("c9"),)


def test_an_answered_near_miss_is_not_answered_again(lesson: Session) -> None:
    """Neither confirmed nor dismissed: it would make a second mark, or take back the first in silence."""
    for answer in (review.confirm, review.dismiss):
        answered = taken(lesson, answer(lesson, ["c9"]))
        for again in (review.confirm, review.dismiss):
            with pytest.raises(CompanionError, match="c9 is answered already") as refused:
                again(answered, ["c9"])
            assert refused.value.safe


def test_undo_takes_back_one_step_with_all_that_it_did(lesson: Session) -> None:
    """Steps are told apart by what was recorded together, whatever the wall clock said."""
    kept = review.keep_all(lesson)
    dropped = review.drop(taken(lesson, kept), ["m3", "m4"])
    both = taken(lesson, kept, dropped)
    assert (both.praise, both.reminder) == (1, 0)
    assert len(both.steps) == 2
    once = taken(lesson, kept, dropped, review.undo(both))
    assert (once.praise, once.reminder, once.unreviewed) == (2, 1, ())
    twice = taken(lesson, kept, dropped, review.undo(both), review.undo(once))
    assert twice.marks == lesson.marks
    assert review.undo(twice) == ()


def test_undo_after_a_confirmed_near_miss_asks_about_it_again(lesson: Session) -> None:
    """The mark is gone, and the near miss is open."""
    confirmed = taken(lesson, review.confirm(lesson, ["c9"]))
    assert [mark.state for mark in confirmed.standing].count(MarkState.CONFIRMED) == 1
    back = taken(lesson, review.confirm(lesson, ["c9"]), review.undo(confirmed))
    assert back.near_misses == lesson.near_misses
    assert back.marks == lesson.marks


STEPS = st.sampled_from(
    [
        review.keep_all,
        review.keep_clear,
        *(
            (lambda session, do=do, mark=mark: do(session, [mark]))
            for do in (review.keep, review.drop, review.restore, review.earlier)
            for mark in ("m3", "m4", "m6", "m7")
        ),
        *(
            (lambda session, do=do, mark=mark: do(session, mark))
            for do in (review.flip, review.turn)
            for mark in ("m3", "m6", "m7")
        ),
        lambda session: review.confirm(session, ["c9"]),
        lambda session: review.dismiss(session, ["c9"]),
        lambda _: review.add(Kind.REMINDER, "cleanup"),
    ]
)


@given(st.lists(STEPS, max_size=12))
def test_any_steps_are_taken_back_one_by_one_to_the_beginning(wanted: list[object]) -> None:
    """What a step returns can be recorded, and as many undos as steps lead back."""
    lesson = told(*LESSON)
    session, steps = lesson, []
    for step in wanted:
        assert callable(step)
        try:
            bodies = step(session)
        except CompanionError:
            continue
        if bodies:
            steps.append(bodies)
            session = taken(lesson, *steps)
    assert len(session.steps) == len(steps)
    for _ in list(steps):
        steps.append(review.undo(session))
        session = taken(lesson, *steps)
    assert (session.marks, session.near_misses, session.steps) == (lesson.marks, lesson.near_misses, ())


CUE_ALONE = ev.NearMissHeard("", 130_000, 0.7, None, "enrolled", ("no command followed",))


def test_a_cue_without_a_command_is_asked_about_and_names_none() -> None:
    """It is in the list; which kind it was has to be chosen, and the mark says no phrase."""
    lesson = told(began("arrival", 0), CUE_ALONE)
    (miss,) = review_list(lesson).near_misses
    assert (miss.cue_alone, miss.kind, miss.scope, miss.phase) == (True, None, "class", "arrival")
    with pytest.raises(CompanionError, match="of which kind the near miss c3 was") as refused:
        review.confirm(lesson, ["c3"])
    assert refused.value.safe
    assert "praise or a reminder" in refused.value.remedy
    (body,) = review.confirm(lesson, ["c3"], Kind.REMINDER)
    confirmed = told(began("arrival", 0), CUE_ALONE, body)
    assert [(mark.kind, mark.phrase, mark.confidence) for mark in confirmed.marks] == [
        (Kind.REMINDER, None, 0.7)
    ]
    assert truly_said(confirmed) == {}
    assert truly_said(told(began("arrival", 0), CUE_ALONE, body, ev.MarkKept("m4"))) == {}
