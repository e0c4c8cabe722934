"""A recogniser in a process of its own."""

import os
import threading
import time
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from companion.errors import CompanionError
from companion.listening.candidate import Candidate
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.spotter_process import WAITING_S, ProcessSpotter
from tests.waiting import until

SECOND: Sound = np.zeros(SAMPLE_RATE, np.int16)


class Counting:
    """Finds something at every full second, and something at the end."""

    name = "counting"

    def __init__(self, pace_s: float = 0.0) -> None:
        """Take `pace_s` for each block."""
        self._pace_s = pace_s
        self._heard = 0

    def hear(self, block: Sound) -> list[Candidate]:
        """Return a candidate for the second that has ended."""
        time.sleep(self._pace_s)
        self._heard += len(block)
        return [found(f"second {self._heard // SAMPLE_RATE}")]

    def finish(self) -> list[Candidate]:
        """Return the last candidate."""
        return [found("the end")]


def found(phrase: str) -> Candidate:
    """Return a candidate of this process, which says who found it."""
    return Candidate(phrase, 0, 1, 2, 0.9, True, "counting", (str(os.getpid()),))


def refuse() -> Counting:
    """Fail as an engine without its model does."""
    raise CompanionError("There is no model.", remedy="Get one.")


class Crashing(Counting):
    """Ends its process inside `hear`, as native code can."""

    def hear(self, block: Sound) -> list[Candidate]:
        """End without a word."""
        os._exit(len(block) % 7)


def test_everything_that_was_said_comes_back_in_order_from_another_process() -> None:
    """Candidates come with later blocks or at the end, and none is lost."""
    spotter = ProcessSpotter(Counting)
    came = [candidate for _ in range(5) for candidate in spotter.hear(SECOND)] + spotter.finish()
    assert [candidate.phrase for candidate in came] == [*(f"second {n}" for n in range(1, 6)), "the end"]
    assert {candidate.reasons for candidate in came} != {(str(os.getpid()),)}
    assert spotter.name == "counting"


def test_it_is_told_at_once_that_something_was_found() -> None:
    """Whoever waits need not ask again and again."""
    spotter, told = ProcessSpotter(Counting), threading.Event()
    spotter.on_found = told.set
    assert spotter.hear(SECOND) == []
    assert told.wait(120)
    assert [candidate.phrase for candidate in spotter.hear(SECOND[:0])] == ["second 1"]
    spotter.close()


def test_hearing_does_not_wait_for_a_slow_recogniser() -> None:
    """Ten blocks are taken long before the first of them is decided, and all come in the end."""
    spotter = ProcessSpotter(partial(Counting, 0.05))
    assert [candidate for _ in range(10) for candidate in spotter.hear(SECOND)] == []
    assert len(spotter.finish()) == 11


def test_a_recogniser_that_never_keeps_up_is_given_up_with_a_reason() -> None:
    """After a minute of sound that waits, the ear is told, so that it can say so and begin anew."""
    spotter = ProcessSpotter(partial(Counting, 3600.0))
    for _ in range(WAITING_S):
        assert spotter.hear(SECOND) == []
    with pytest.raises(CompanionError, match="too slow"):
        spotter.hear(SECOND)


@pytest.mark.parametrize(("new_spotter", "words"), [(refuse, "no model"), (Crashing, "ended unexpectedly")])
def test_a_recogniser_that_fails_is_an_error_here_and_nothing_more(
    new_spotter: type[Counting], words: str, tmp_path: Path
) -> None:
    """An engine that can't be opened says why; one that crashes takes only its own process with it."""
    spotter = ProcessSpotter(new_spotter)
    spotter.hear(SECOND)

    def fails() -> bool:
        try:
            # However long the process takes to begin: no more sound comes to wait for it.
            spotter.hear(SECOND[:0])
        except CompanionError as error:
            (tmp_path / "said").write_text(str(error))
            return True
        return False

    assert until(fails, limit_s=120)
    assert words in (tmp_path / "said").read_text()
    spotter.close()
