"""`[[keys]]` and `[gestures]` of the settings file."""

from collections.abc import Iterable
from typing import Self

from pydantic import Field, model_validator

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.command import Action, Command
from companion.lesson.mark import WHOLE_CLASS, NoteKind, table_scope
from companion.pressing.bindings import Bindings, bind, parse_press
from companion.pressing.gesture import Timings
from companion.settings.section import Name, Sayable, Section


class KeySection(Section):
    """`[[keys]]`: what is pressed, and what happens then."""

    press: Name
    """As in `ctrl+alt+p`, `page_down hold`, `f5/esc double`."""
    does: Action
    phase: Name | None = None
    note: NoteKind | None = None
    routine: Name | None = None
    table: Sayable | None = None

    @model_validator(mode="after")
    def _is_complete(self) -> Self:
        try:
            parse_press(self.press)
        except CompanionError as error:
            raise ValueError(str(error).rstrip(".")) from error
        if self.does is Action.PHASE and self.phase is None:
            msg = _(
                "the key '{press}' goes to a phase; say which with {example}",
                press=self.press,
                example='phase = "…"',
            )
            raise ValueError(msg)
        if self.does is Action.NOTE and self.note is None:
            msg = _(
                "the key '{press}' opens a note; say which kind with {example}",
                press=self.press,
                example='note = "…"',
            )
            raise ValueError(msg)
        if self.table is not None and self.does not in (Action.PRAISE, Action.REMINDER):
            msg = _("the key '{press}' names a table; only praise and reminder can", press=self.press)
            raise ValueError(msg)
        return self

    def command(self) -> Command:
        """Return what the key stands for."""
        scope = WHOLE_CLASS if self.table is None else table_scope(self.table)
        return Command(self.does, self.phase, scope, self.note, self.routine)


class GesturesSection(Section):
    """`[gestures]`: how long a finger takes, in milliseconds."""

    double_ms: int = Field(Timings().double_ms, ge=150, le=1500)
    hold_ms: int = Field(Timings().hold_ms, ge=300, le=3000)

    def timings(self) -> Timings:
        """Return the timings as a `GestureReader` wants them."""
        return Timings(self.double_ms, self.hold_ms)


def bindings_of(keys: Iterable[KeySection]) -> Bindings:
    """Return the checked bindings of all `[[keys]]` tables. Raises CompanionError for a conflict."""
    return bind((key.press, key.command()) for key in keys)
