"""What is tried on a page comes to rest when nobody looks on any more."""

from companion.pages.exercises.exercise import Exercises
from tests.waiting import until


class Watched:
    """An exercise that notes whether it has come to rest."""

    def __init__(self, step: str = "microphone") -> None:
        self.step = step
        self.stamp = ""
        self.level_dbfs = None
        self.rested = 0

    def rest(self) -> None:
        """Note it."""
        self.rested += 1


def test_an_exercise_rests_when_its_last_page_has_gone_and_not_before() -> None:
    """Two windows look on; a window that comes back in time keeps it awake."""
    exercises, watched = Exercises(unwatched_s=0.2), Watched()
    exercises.begin(lambda: watched)
    leave, leave_too = exercises.watch(), exercises.watch()
    leave()
    back = exercises.watch()
    leave_too()
    assert watched.rested == 0
    back()
    assert until(lambda: watched.rested == 1)
    assert exercises.of("microphone") is watched


def test_one_exercise_goes_on_at_a_time_and_others_are_kept() -> None:
    """Going on to another step lets the first rest; what it has found stays to be seen until it is ended."""
    exercises, first, second = Exercises(), Watched(), Watched("try")
    exercises.begin(lambda: first)
    exercises.begin(lambda: second)
    assert (first.rested, second.rested) == (1, 0)
    assert exercises.of("microphone") is first
    exercises.end("microphone")
    assert exercises.of("microphone") is None
    exercises.end()
    assert second.rested == 1
