"""Whom a mark can be for."""

from companion.lesson.scope import scopes_of
from tests.lesson.builders import told


def test_a_mark_is_for_the_class_a_table_or_a_part_of_it() -> None:
    """Never for one child."""
    assert scopes_of(told()) == ("class", "table one", "table two", "part of the class")
