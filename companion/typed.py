"""The companion's own commands in its sentences, as they have to be typed: with the home that is in use."""

import re
from collections.abc import Iterable

PROGRAM = "companion"

_program = PROGRAM
_commands: re.Pattern[str] = re.compile("(?!)")


def type_with(program: str, commands: Iterable[str]) -> None:
    """From now on begin each of `commands` with `program`, as in `companion --profile "music"`."""
    global _program, _commands  # noqa: PLW0603 - the one home of the process
    # What has such signs would be read as something else, in a sentence with values or in a page.
    _program = program if re.fullmatch(r"[^{}<>&]*", program) else PROGRAM
    names = "|".join(map(re.escape, commands))
    _commands = re.compile(rf"(?<![Tt]he )\b{PROGRAM}(?= (?:{names})(?![\w-]))")


def as_typed(sentence: str) -> str:
    """Return a sentence of the program's own with each command line in it as it has to be typed.

    `Start it with: companion start` becomes `Start it with: companion --profile "music" start`.
    """
    return sentence if _program == PROGRAM else _commands.sub(lambda _: _program, sentence)
