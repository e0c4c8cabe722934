"""Whatever is told in the terminal or by an error goes through the catalogues."""

import ast
import re
from collections.abc import Iterator

from tests.catalogues import COMPANION, room_of

TELLS = {"CompanionError", "UsageError", "BadParameter", "echo", "confirm", "prompt"}
"""Calls whose words a user reads."""
IN_WORDS = {"safe", "remedy", "help"}
FOR_CONTRIBUTORS = {"bench"}
"""Rooms that only say something to whoever works on the program."""
NAMES = {"SHA-256"}
"""The same in every language."""
PATHS = sorted(path for path in COMPANION.rglob("*.py") if room_of(path) not in FOR_CONTRIBUTORS)


def bare_words(told: ast.expr) -> str:
    """Return what of an argument is words of no call."""
    match told:
        case ast.Constant(value=str(text)):
            return text
        case ast.JoinedStr(values=parts):
            return "".join(bare_words(part) for part in parts)
        case ast.IfExp(body=one, orelse=other):
            return bare_words(one) + bare_words(other)
    return ""


def bare(tree: ast.AST) -> Iterator[str]:
    """Yield the sentences that are told as they stand in the source."""
    for call in ast.walk(tree):
        if isinstance(call, ast.Call):
            name = call.func.id if isinstance(call.func, ast.Name) else getattr(call.func, "attr", "")
            named = [keyword.value for keyword in call.keywords if keyword.arg in IN_WORDS]
            for told in [*call.args, *named] if name in TELLS else []:
                words = bare_words(told).strip()
                if words not in NAMES and re.search("[A-Za-z]{2}", words):
                    yield f"{told.lineno}: {words}"


def test_no_sentence_is_told_as_it_stands() -> None:
    """It is translated first."""
    found = {
        path.relative_to(COMPANION).as_posix(): list(bare(ast.parse(path.read_text(encoding="utf-8"))))
        for path in PATHS
    }
    assert {path: told for path, told in found.items() if told} == {}
