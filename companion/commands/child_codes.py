"""What a command says to words for a class in which a child's code may stand."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

import click

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.initials import codes_in

if TYPE_CHECKING:
    # A command to the running companion imports little.
    from companion.lesson.session import Session

WITH_CODES = click.option("--with-codes", is_flag=True, help="Keep words with what may be a child's code.")
"""The option that keeps them all the same."""


def refuse_codes(words: str, safe: str, known: Iterable[str] = ()) -> None:
    """Raise CompanionError if a child's code may stand in `words`; safe: what was not done then.

    known: codes of children that are found however they look.
    """
    if codes := codes_in(words, known):
        raise CompanionError(
            _("{codes} may stand for a child, and the class may see these words.", codes=", ".join(codes)),
            safe=safe,
            remedy=_("Write it without, or keep it as it is with --with-codes."),
        )


def refuse_codes_in(session: "Session", words: str, safe: str) -> None:
    """Do as `refuse_codes` with the codes of the session's notes; a routine of its plan may stand."""
    if words.strip() not in session.plan.routines:
        refuse_codes(words, safe, [note.child for note in session.notes])
