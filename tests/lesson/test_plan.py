"""The plan of a lesson."""

from tests.lesson.builders import PLAN


def test_phases_follow_each_other_in_the_plans_order() -> None:
    """Nothing follows the last, and nothing an unknown one."""
    assert [phase.name for phase in PLAN] == ["arrival", "work time", "cleanup"]
    after = [PLAN.after(name) for name in ("arrival", "work time", "cleanup", "recess")]
    assert [phase and phase.name for phase in after] == ["work time", "cleanup", None, None]


def test_a_phase_is_found_by_its_name() -> None:
    """Another name finds none."""
    found = PLAN.phase("cleanup")
    assert found is not None
    assert found.routines == ("tools back",)
    assert PLAN.phase("recess") is None


def test_a_plan_lasts_as_long_as_its_phases() -> None:
    """In minutes."""
    assert PLAN.minutes == 30
