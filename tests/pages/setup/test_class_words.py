"""Which words of the set-up are asked about before a class may see them."""

import pytest

from companion.pages.setup.class_words import SURE, doubts

STANDING = {
    "plans.0.name": "garden",
    "plans.0.phases.1.routines": "boots at the door\nK. T. holds the hose",
    "levels.0.name": "Full Basket",
}


@pytest.mark.parametrize(
    ("said", "asked", "sure"),
    [
        ({"plans.0.name": "garden with K. T."}, ["plans.0.name"], "K. T."),
        ({"plans.0.phases.1.name": "seat 14 waits"}, ["plans.0.phases.1.name"], "seat 14"),
        ({"plans.0.bring": "boots; ask m.o."}, ["plans.0.bring"], "m.o."),
        ({"levels.0.name": "Full Basket", "levels.0.object": "can of SL"}, ["levels.0.object"], "SL"),
        ({"new.name": "kitchen JB", "school.tables": "four"}, ["new.name"], "JB"),
        ({"school.tables": "four\nRM"}, ["school.tables"], "RM"),
        ({"plans.0.phases.1.routines": "K. T. holds the hose"}, [], ""),
        (
            {"plans.0.phases.1.routines": "K. T. holds the hose\nMO helps"},
            ["plans.0.phases.1.routines"],
            "MO",
        ),
        ({"plans.0.name": "with K. T.", SURE: "K. T.; SL"}, [], "K. T.; SL"),
        ({"plans.0.name": "with K. T. and JB", SURE: "K. T."}, ["plans.0.name"], "K. T.; JB"),
        ({"plans.0.name": "PE, 9:00 a.m.", "school.name": "K. T.", "phrases.0.say": "well done MO"}, [], ""),
        ({"plans.0.name": "JB", "levels.0.name": "JB"}, ["plans.0.name"], "JB"),
    ],
)
def test_new_words_that_a_class_may_see_are_asked_about_once(
    said: dict[str, str], asked: list[str], sure: str
) -> None:
    """Not what stands in the file, is to stay, or no class sees; of a second code it is asked anew."""
    problems, afterwards = doubts(said, STANDING)
    assert [problem.place for problem in problems] == asked
    assert afterwards == sure
    assert all(sure.rsplit("; ", maxsplit=1)[-1] in problem.words for problem in problems)
