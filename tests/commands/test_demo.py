"""`companion demo`: the whole lesson as its user sees it."""

import re

from companion.samples.sample import sample_names
from tests.commands.conftest import Run
from tests.watched import Watch


def test_the_demo_goes_from_sound_to_hand_off_note_and_tells_nobody(watch: Watch) -> None:
    """Marks as they are made, then review, reflection, hand-off note, score; no look-up, no stray file."""
    shown = watch.run("demo")
    parts = [
        "A lesson of 4-Hazel at Alder Lane School",
        "+ praise",
        "Review",
        "Corrections",
        "Reflection with the class",
        "Recognition",
        "Hand-off note",
        "Only so that you know",
        "Next time",
        "What was heard",
        "The session log is",
    ]
    places = [shown.index(part) for part in parts]
    assert places == sorted(places)
    score = re.search(r"Of (\d+) spoken marks (\d+) were found and (\d+) missed; (\d+) false", shown)
    assert score is not None
    spoken, found, missed, false = map(int, score.groups())
    assert found + missed == spoken
    assert found * 2 > spoken, shown
    assert false * 4 <= spoken, shown
    assert (watch.left(), watch.strayed()) == ([], [])


def test_the_demo_keeps_out_of_the_teachers_own_log(run: Run) -> None:
    """An unknown sample is a plain error with the names of those that are there."""
    said = run("demo", "--sample", "no-such-lesson", code=2).stderr
    assert all(name in said for name in sample_names())
    assert "no session" in run("sessions").stdout
