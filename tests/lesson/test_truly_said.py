"""What a review says was truly said."""

from dataclasses import replace

from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.doubts import CERTAIN
from companion.lesson.mark import Kind, Source
from companion.lesson.truly_said import falsely_heard, truly_said
from tests.lesson.builders import began, praise, reminder, told

MISSED = ev.NearMissHeard("praise", 9_000, 0.3, Command(Action.PRAISE))
BEGUN = (began("arrival", 0), praise(5_000, 0.6), reminder(7_000, 0.95), MISSED)
"""m3 is in doubt, m4 is not, c5 is a near miss."""


def test_a_confirmed_near_miss_and_a_doubtful_mark_that_was_kept_were_said() -> None:
    """A mark that nobody doubted teaches nothing; one that nobody looked at proves nothing."""
    assert truly_said(told(*BEGUN)) == {}
    certain = told(began("arrival", 0), praise(5_000, CERTAIN), ev.MarkKept("m3"))
    assert truly_said(certain) == {}
    kept = told(*BEGUN, ev.MarkKept("m3"), ev.MarkKept("m4"), ev.NearMissConfirmed("c5", Kind.PRAISE))
    assert truly_said(kept) == {"m3": "praise", "c5": "praise"}


def test_what_was_dropped_dismissed_or_taken_back_was_not() -> None:
    """The last word of the review counts."""
    assert truly_said(told(*BEGUN, ev.MarkDropped("m3"), ev.NearMissDismissed("c5"))) == {}
    confirmed = (*BEGUN, ev.NearMissConfirmed("c5", Kind.PRAISE))
    assert truly_said(told(*confirmed, ev.MarkDropped("m6"))) == {}
    assert truly_said(told(*confirmed, ev.EventTakenBack(6))) == {}


def test_a_changed_mark_may_have_been_another_phrase() -> None:
    """Heard as praise and changed to a reminder, it is no take of either."""
    assert truly_said(told(*BEGUN, ev.MarkChanged("m3", Kind.REMINDER))) == {}


def test_what_was_heard_as_praise_and_was_a_reminder_is_no_take_of_praise() -> None:
    """Nobody said that phrase."""
    assert truly_said(told(*BEGUN, ev.NearMissConfirmed("c5", Kind.REMINDER))) == {}


def test_a_mark_by_voice_that_was_dropped_was_heard_falsely() -> None:
    """Not one that was kept or that a key made, and no near miss: it made no mark."""
    by_key = replace(praise(6_000), source=Source.KEY, phrase=None)
    looked = told(*BEGUN, by_key, ev.MarkDropped("m3"), ev.MarkDropped("m6"), ev.NearMissDismissed("c5"))
    assert falsely_heard(looked) == {"m3": "praise"}
    assert falsely_heard(told(*BEGUN)) == {}
