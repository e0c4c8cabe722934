"""Whom a mark can be for: the class, a part of it, or one of its tables; never one child."""

from companion.lesson.mark import PART_OF_CLASS, WHOLE_CLASS, table_scope
from companion.lesson.session import Session


def scopes_of(session: Session) -> tuple[str, ...]:
    """Return what a mark of `session` can be about."""
    return (WHOLE_CLASS, *(table_scope(table) for table in session.tables), PART_OF_CLASS)
