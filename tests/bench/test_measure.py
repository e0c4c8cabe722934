"""How the benchmark counts what a spotter found."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from companion.bench.conditions import Condition
from companion.bench.folder import Labelled
from companion.bench.measure import Run, expected_calibration_error, run
from companion.bench.people import Recording
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
    return run("scripted", lambda: Scripted(found), labelled(unrelated), [CLEAN])


def labelled(unrelated: int = 0) -> Labelled:
    """Return one clip of "praise", which is also what was said in so many recordings of no command."""
    clip = speakers.say("praise")
    return Labelled(
        Vocabulary(("praise", "reminder")), {}, {"praise": [Recording(clip)]}, [], [], [clip] * unrelated
    )


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
    folder = Labelled(
        Vocabulary(("praise",), cue="velvet compass"), {}, {"praise": [Recording(clip)]}, [], []
    )
    (outcome,) = run("scripted", lambda: Scripted([found]), folder, [CLEAN]).outcomes[CLEAN]
    assert 0.3 <= outcome.latency_s < 0.6


def test_another_phrase_found_there_is_wrong() -> None:
    """It counts as wrong and as missed, not as a stray."""
    (outcome,) = measured(candidate("reminder", LEAD_MS)).outcomes[CLEAN]
    assert (outcome.fired, outcome.wrong, outcome.found, outcome.strays) == (False, True, True, 0)


def test_what_fires_on_no_command_is_told() -> None:
    """Each recording of the cue with something else counts once."""
    told = as_data([measured(candidate("praise", LEAD_MS), unrelated=2)], labelled(), 0)["engines"][0][
        "conditions"
    ][0]
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
    folder = Labelled(
        Vocabulary(("praise",)), {}, {"praise": [Recording(speakers.say("praise"))]}, [talk], []
    )
    near = candidate("praise", LEAD_MS, fired=False, confidence=0.3)
    told = as_data([run("scripted", lambda: Scripted([near]), folder, [CLEAN])], folder, 0)["engines"][0]
    assert told["true_near_misses"] == pytest.approx(0.2 / 1.2)


def test_misses_and_false_alarms_are_told_word_by_word() -> None:
    """What was said and found, and what was falsely heard in talk, each under its own word."""
    talk: Sound = np.zeros(SAMPLE_RATE * 36, np.int16)
    folder = replace(labelled(), talk=[talk])
    told = as_data(
        [run("scripted", lambda: Scripted([candidate("reminder", LEAD_MS)]), folder, [CLEAN])], folder, 0
    )
    assert told["engines"][0]["words"] == {
        "praise": {"false_alarms": 0, "missed": {"clean": {"count": 1, "clips": 1}}}
    }
    heard_right = run("scripted", lambda: Scripted([candidate("praise", LEAD_MS)]), folder, [CLEAN])
    assert as_data([heard_right], folder, 0)["engines"][0]["words"]["praise"] == {
        "false_alarms": 1,
        "missed": {"clean": {"count": 0, "clips": 1}},
    }


def test_work_spread_over_processes_gives_the_same_figures() -> None:
    """Every clip keeps its own room and noise, whichever process hears it."""
    conditions = [CLEAN, Condition(far=True, snr_db=5.0)]
    folder = replace(labelled(unrelated=1), talk=[np.zeros(SAMPLE_RATE * 10, np.int16)])

    def measured_by(jobs: int) -> list[object]:
        result = run("loudness", Loudness, folder, conditions, seed=3, jobs=jobs)
        return [result.outcomes, result.unrelated, result.fired, result.talk_s]

    assert measured_by(2) == measured_by(1)


class Loudness:
    """A `Spotter` that finds "praise" as likely as the sound is loud."""

    name = "loudness"

    def __init__(self) -> None:
        self._heard: list[Sound] = []

    def hear(self, block: Sound) -> list[Candidate]:
        """Return nothing yet."""
        self._heard.append(block)
        return []

    def finish(self) -> list[Candidate]:
        """Return one candidate."""
        loudness = float(np.abs(np.concatenate(self._heard).astype(np.float64)).mean()) / 32768
        return [candidate("praise", LEAD_MS, confidence=loudness)]
