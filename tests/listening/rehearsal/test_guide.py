"""The rehearsal as a conversation, without any sound."""

import numpy as np
import pytest

from companion.lesson.vocabulary import Vocabulary
from companion.listening.rehearsal.guide import (
    COMMAND_TAKES,
    CUE_TAKES,
    LONE_TAKES,
    Guide,
    Part,
    RehearsalStep,
    steps_for,
)
from companion.listening.rehearsal.take_check import Fault
from companion.listening.rehearsal.take_cutter import Take
from companion.listening.sound import SAMPLE_RATE, Sound

SECOND: Sound = np.zeros(SAMPLE_RATE, np.int16)
GOOD = Take(SECOND)
STEPS = (
    RehearsalStep(Part.TAKES, "velvet compass", 2),
    RehearsalStep(Part.TAKES, "praise", 1),
    RehearsalStep(Part.TALK, seconds=3),
    RehearsalStep(Part.ROOM, seconds=2),
)


def test_with_a_cue_it_is_asked_for_most_then_each_command_then_talk_and_room() -> None:
    """Phrases that name a table share their words and are said once each."""
    steps = steps_for(Vocabulary(("praise", "table one praise"), "velvet compass"), once=["table one praise"])
    assert [(step.phrase, step.takes) for step in steps[:-2]] == [
        ("velvet compass", CUE_TAKES),
        ("praise", COMMAND_TAKES),
        ("table one praise", 1),
    ]
    assert [step.part for step in steps[-2:]] == [Part.TALK, Part.ROOM]


def test_without_a_cue_each_phrase_is_said_so_often_that_it_can_be_learnt() -> None:
    """Every phrase gets its own detector then."""
    steps = steps_for(Vocabulary(("garden star", "table one praise")), once=["table one praise"])
    assert [step.takes for step in steps[:-2]] == [LONE_TAKES, LONE_TAKES]


def test_good_takes_lead_to_the_end() -> None:
    """Each step ends with its last take or second, and every answer is said."""
    guide = Guide(STEPS)
    assert "1 of 4" in guide.prompt
    assert "“velvet compass” 2 times" in guide.prompt
    guide = guide.hear_take(GOOD)
    assert guide.remark == "1 of 2: good."
    guide = guide.hear_take(GOOD).hear_take(GOOD)
    assert guide.step == STEPS[2]
    for _ in range(3):
        guide = guide.hear_sound(SECOND)
    assert guide.step == STEPS[3]
    guide = guide.hear_sound(SECOND).hear_sound(SECOND)
    assert guide.step is None
    assert "all" in guide.prompt
    assert {phrase: len(takes) for phrase, takes in guide.takes_of.items()} == {
        "velvet compass": 2,
        "praise": 1,
    }
    assert (len(guide.talk), len(guide.room)) == (3, 2)


@pytest.mark.parametrize("fault", Fault)
def test_a_take_with_a_fault_is_not_kept_and_asked_for_again(fault: Fault) -> None:
    """What was wrong is said, and the count stays."""
    guide = Guide(STEPS).hear_take(Take(SECOND, fault))
    assert str(fault) in guide.remark
    assert guide.done == 0
    assert guide.step == STEPS[0]


def test_a_step_can_be_skipped() -> None:
    """What there is of it is kept."""
    guide = Guide(STEPS).hear_take(GOOD).skip().skip()
    assert guide.step == STEPS[2]
    assert list(guide.takes_of) == ["velvet compass"]
    assert guide.skip().skip().skip().step is None


@pytest.mark.parametrize("cue", ["velvet compass", None])
def test_what_has_to_be_learnt_can_not_be_skipped_with_too_few_takes(cue: str | None) -> None:
    """It is said now, and not at the end of a rehearsal that was for nothing; a command may be left out."""
    guide = Guide(steps_for(Vocabulary(("garden star", "praise"), cue)))
    guide = guide.hear_take(GOOD).hear_take(GOOD)
    assert guide.skip().at == 0
    assert "3 times at least" in guide.skip().remark
    enough = guide.skip().hear_take(GOOD).skip()
    assert enough.at == 1
    assert enough.skip().at == (2 if cue else 1)


def test_the_last_take_can_be_taken_back_even_when_its_step_is_over() -> None:
    """Then its phrase is asked for again."""
    guide = Guide(STEPS).hear_take(GOOD).hear_take(GOOD)
    assert guide.step == STEPS[1]
    back = guide.again()
    assert back.step == STEPS[0]
    assert back.done == 1
    assert back.again().again().remark == "There is nothing to take back."


def test_talk_and_room_can_begin_anew() -> None:
    """Somebody came in and spoke."""
    guide = Guide(STEPS, at=2).hear_sound(SECOND).again()
    assert (guide.step, guide.done) == (STEPS[2], 0)
    guide = Guide(STEPS, at=3).hear_sound(SECOND).again()
    assert (guide.step, guide.done) == (STEPS[3], 0)


def test_a_long_silence_is_told() -> None:
    """But not while the room itself is listened to."""
    assert "Nothing was heard" in Guide(STEPS).hear_nothing().remark
    assert Guide(STEPS, at=3).hear_nothing().remark == ""
    assert "too loud" in Guide(STEPS).hear_nothing(clipped=True).remark


def test_speech_while_the_room_is_heard_is_no_take() -> None:
    """Each step takes only what it asks for."""
    assert Guide(STEPS, at=3).hear_take(GOOD) == Guide(STEPS, at=3)
    assert Guide(STEPS).hear_sound(SECOND) == Guide(STEPS)


def test_any_take_can_be_said_again_and_the_rest_goes_on_where_it_was() -> None:
    """Also one of a step that is long over; what was asked for since is asked for once more afterwards."""
    guide = Guide(STEPS).hear_take(GOOD).hear_take(GOOD)
    assert guide.step == STEPS[1]
    back = guide.take_back(0)
    assert (back.step, back.done) == (STEPS[0], 1)
    assert back.hear_take(GOOD).step == STEPS[1]
    assert back.take_back(0).hear_take(GOOD).hear_take(GOOD).step == STEPS[1]
    assert guide.take_back(9) == guide
