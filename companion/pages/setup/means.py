"""What a phrase or a key does, as one choice in a teacher's words.

In the file it is several keys (`does`, `phase`, `note`, `table`); a form carries them as one value: `praise`,
`phase:cleanup`, `note:health office`, `praise:four` (of a table).
"""

from collections.abc import Iterable, Iterator, Mapping, MutableMapping
from typing import Any

from companion.language import _, later
from companion.lesson.command import Action, Command
from companion.lesson.mark import WHOLE_CLASS, NoteKind

WORDS = {
    Action.PRAISE: later("praise"),
    Action.REMINDER: later("a reminder"),
    Action.UNDO: later("take back what was done last"),
    Action.NEXT_PHASE: later("go on to the next phase"),
    Action.TELL: later("tell the class of marks that were held"),
    Action.PAUSE: later("stop listening"),
    Action.RESUME: later("listen again"),
    Action.OPEN: later("open the lesson whose time it is"),
    Action.CLOSE: later("end the lesson"),
}
FOR_TABLE = {
    Action.PRAISE: later("praise for table {table}"),
    Action.REMINDER: later("a reminder for table {table}"),
}
BY_HAND_ONLY = frozenset({Action.RESUME, Action.OPEN, Action.CLOSE})
PARTS = ("does", "phase", "note", "table")


def spoken_choices(phases: Iterable[str]) -> list[tuple[str, str]]:
    """Return what a phrase can do, each as the form's value and in words."""
    plain = [(str(action), _(words)) for action, words in WORDS.items() if action not in BY_HAND_ONLY]
    return [*plain, *_of_lesson(phases)]


def pressed_choices(phases: Iterable[str], tables: Iterable[str]) -> list[tuple[str, str]]:
    """Return what a key can do, each as the form's value and in words."""
    plain = [(str(action), _(words)) for action, words in WORDS.items()]
    of_tables = [
        (f"{action}:{table}", _(words, table=table))
        for table in tables
        for action, words in FOR_TABLE.items()
    ]
    return [*plain, *_of_lesson(phases), *of_tables]


def _of_lesson(phases: Iterable[str]) -> Iterator[tuple[str, str]]:
    for phase in dict.fromkeys(phases):
        yield f"{Action.PHASE}:{phase}", _("go to the phase: {phase}", phase=phase)
    for kind in NoteKind:
        yield f"{Action.NOTE}:{kind}", _("begin a private note: {kind}", kind=_(kind))


def meaning_of(row: Mapping[str, Any]) -> str:
    """Return the form's value for a table of the file that says what a phrase or a key does."""
    of = row.get("phase") or row.get("note") or row.get("table")
    return f"{row.get('does', '')}:{of}" if of else str(row.get("does", ""))


def command_words(command: Command) -> str:
    """Return what a command does, in words."""
    match command.action:
        case Action.PHASE:
            return _("go to the phase: {phase}", phase=command.phase)
        case Action.NOTE:
            return _("begin a private note: {kind}", kind=_(str(command.note)))
    words = _(WORDS[command.action])
    return words if command.scope == WHOLE_CLASS else f"{words}, {command.scope}"


def mean(row: MutableMapping[str, Any], meaning: str) -> None:
    """Let a table of the file say that it does what a form's value means; what is the same stays."""
    does, _, of = meaning.partition(":")
    part = {Action.PHASE: "phase", Action.NOTE: "note"}.get(Action(does), "table")
    wanted = {"does": does, part: of} if of else {"does": does}
    for key in PARTS:
        if key not in wanted:
            row.pop(key, None)
        elif row.get(key) != wanted[key]:
            row[key] = wanted[key]
