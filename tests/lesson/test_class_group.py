"""What the name of a class group tells."""

import pytest

from companion.lesson.class_group import grade_of


@pytest.mark.parametrize(
    ("class_group", "grade"),
    [("4-Hazel", "4"), ("12-Rowan", "12"), ("K-Elder", "K"), ("Choir", "Choir"), ("", "")],
)
def test_the_grade_stands_before_the_tree(class_group: str, grade: str) -> None:
    """A name without a grade is a grade of its own."""
    assert grade_of(class_group) == grade
