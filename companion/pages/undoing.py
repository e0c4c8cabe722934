"""Undo on a page: it takes back the step that the page has named, and no other."""

from starlette.datastructures import FormData

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.command import Action, Command
from companion.lesson.session import Session
from companion.lesson.undo import last_step
from companion.pages.desk import Desk, text, wish_of


def undo_named(desk: Desk, session: Session, form: FormData) -> None:
    """Take back the last step of `session`, if it is the one that `form` names by its last event's number.

    Raises CompanionError if it is not, or was taken back already.
    """
    newest = last_step(session)
    if not newest or str(newest[-1].seq) != text(form, "item"):
        raise CompanionError(
            _("Something else was done in this lesson since, or it was taken back already."),
            safe=_("Nothing was taken back now."),
            remedy=_("Load the page again."),
        )
    desk.port.submit(session.id, Command(Action.UNDO), request=wish_of(form))
