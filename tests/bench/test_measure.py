"""How the benchmark counts what a spotter found."""

from collections.abc import Sequence

import numpy as np
import pytest

from companion.bench.conditions import Condition
from companion.bench.folder import Labelled
from companion.bench.measure import Run, expected_calibration_error, run
from companion.bench.report import as_data
from companion.lesson.vocabulary import Vocabulary
from companion.listening.candidate import Candidate
from companion.listening.sound import SAMPLE_RATE, Sound
from tests.listening import speakers

CLEAN = Condition(far=False, snr_db=None)
LEAD_MS = 1000


class Scripted:
    """A `Spotter` that finds the same whatever it hears."""

    name = "scripted"

    def __init__(self, found: Sequence[Candidate]) -> None:
        self._found = list(found)

    def hear(self, block: Sound) -> list[Candidate]:  # noqa: ARG002
        """Return nothing yet."""
        return []

    def finish(self) -> list[Candidate]:
        """Return everything."""
        return self._found


def candidate(phrase: str, begin_ms: int, *, fired: bool = True, confidence: float = 0.9) -> Candidate:
    """Return half a second in which `phrase` was found."""
    return Candidate(phrase, begin_ms, begin_ms + 500, begin_ms + 900, confidence, fired, "scripted")


def measured(*found: Candidate, unrelated: int = 0) -> Run:
    """Return what is counted when this is found in one clip of "praise", which begins a second in."""
    clip = speakers.say("praise")
    labelled = Labelled(
        Vocabulary(("praise", "reminder")), {}, {"praise": [clip]}, [], [], [clip] * unrelated
    )
    return run("scripted", lambda: Scripted(found), labelled, [CLEAN])


def test_phrase_found_where_it_was_said_is_a_hit() -> None:
    """Found elsewhere it is no hit, but fired where nothing was said."""
    (outcome,) = measured(candidate("praise", LEAD_MS)).outcomes[CLEAN]
    assert (outcome.fired, outcome.wrong, outcome.strays) == (True, False, 0)
    (outcome,) = measured(candidate("praise", 60_000)).outcomes[CLEAN]
    assert (outcome.fired, outcome.found, outcome.strays) == (False, False, 1)


def test_a_decision_is_late_from_the_end_of_the_command() -> None:
    """A pause between cue and command is part of what was said, however loud the cue."""
    pause = np.zeros(SAMPLE_RATE // 2, np.int16)
    clip = np.concatenate((speakers.say("velvet compass"), pause, speakers.say("praise") // 2))
    end_ms = LEAD_MS + len(clip) * 1000 // SAMPLE_RATE
    found = Candidate("praise", LEAD_MS, end_ms, end_ms + 300, 0.9, fired=True, engine="scripted")
    labelled = Labelled(Vocabulary(("praise",), cue="velvet compass"), {}, {"praise": [clip]}, [], [])
    (outcome,) = run("scripted", lambda: Scripted([found]), labelled, [CLEAN]).outcomes[CLEAN]
    assert 0.3 <= outcome.latency_s < 0.6


def test_another_phrase_found_there_is_wrong() -> None:
    """It counts as wrong and as missed, not as a stray."""
    (outcome,) = measured(candidate("reminder", LEAD_MS)).outcomes[CLEAN]
    assert (outcome.fired, outcome.wrong, outcome.found, outcome.strays) == (False, True, True, 0)


def test_what_fires_on_no_command_is_told() -> None:
    """Each recording of the cue with something else counts once."""
    told = as_data([measured(candidate("praise", LEAD_MS), unrelated=2)], 0)["engines"][0]["conditions"][0]
    assert (told["unrelated"], told["unrelated_fired"]) == (2, 2)
    assert (told["right"], told["wrong"], told["found"]) == (1, 0, 1)


def test_confidence_is_held_against_how_often_it_was_right() -> None:
    """A half that comes true as often as not errs by nothing, one that never does by a half."""
    assert expected_calibration_error([(0.55, True, 1.0), (0.55, False, 1.0)]) == pytest.approx(0.05)
    assert expected_calibration_error([(0.5, False, 3.0), (1.0, True, 1.0)]) == pytest.approx(0.375)
    assert expected_calibration_error([]) == 0.0


def test_near_misses_are_weighed_by_how_rare_phrases_are() -> None:
    """One true near miss among clips is worth twenty an hour of talk."""
    talk: Sound = np.zeros(SAMPLE_RATE * 36, np.int16)
    clip = speakers.say("praise")
    labelled = Labelled(Vocabulary(("praise",)), {}, {"praise": [clip]}, [talk], [])
    near = candidate("praise", LEAD_MS, fired=False, confidence=0.3)
    told = as_data([run("scripted", lambda: Scripted([near]), labelled, [CLEAN])], 0)["engines"][0]
    assert told["true_near_misses"] == pytest.approx(0.2 / 1.2)
