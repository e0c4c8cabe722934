"""Stretches of a session."""

from hypothesis import given
from hypothesis import strategies as st

from companion.lesson.span import (
    PhaseSpan,
    Stretch,
    begin_stretch,
    end_stretch,
    name_at,
    put_in_order,
    span_at,
    spans_of,
)

BEGINNINGS = [PhaseSpan("arrival", 0, None), PhaseSpan("cleanup", 60_000, None)]


def test_the_phase_in_force_is_the_last_that_began() -> None:
    """At its very beginning, too; before the first there is none."""
    assert [name_at(BEGINNINGS, at_ms) for at_ms in (0, 59_999, 60_000)] == ["arrival", "arrival", "cleanup"]
    assert span_at(BEGINNINGS, -1) is None
    assert name_at([], 5) == ""


@given(st.lists(st.integers(0, 100)))
def test_phases_stay_in_the_order_of_their_beginnings(began: list[int]) -> None:
    """In whichever order they were recorded."""
    spans: list[PhaseSpan] = []
    for at_ms in began:
        put_in_order(spans, PhaseSpan("p", at_ms, None))
    assert [span.began_ms for span in spans] == sorted(began)


def test_each_phase_ends_where_the_next_begins_and_the_last_with_the_lesson() -> None:
    """A lesson that goes on leaves it open; no phase ends before it began."""
    assert [span.ended_ms for span in spans_of(BEGINNINGS, 90_000)] == [60_000, 90_000]
    assert [span.ended_ms for span in spans_of(BEGINNINGS, None)] == [60_000, None]
    assert spans_of(BEGINNINGS, 1)[1].ended_ms == 60_000


def test_one_stretch_is_open_at_a_time() -> None:
    """A second reason begins none; an end without a beginning ends none."""
    stretches: list[Stretch] = []
    end_stretch(stretches, 5)
    begin_stretch(stretches, 10, "unplugged")
    begin_stretch(stretches, 20, "busy")
    end_stretch(stretches, 5)
    end_stretch(stretches, 50)
    assert stretches == [Stretch(10, 10, "unplugged")]
