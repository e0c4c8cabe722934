"""How long commands take after one and after five school years: `python -m tests.commands.bench [FOLDER]`.

Milliseconds of the processor, the least of several times. A command's own work is that of a process which has
imported all that it needs, and has told nothing of this home yet; beside it stands the whole process, with
the interpreter's start and the imports. FOLDER keeps the two homes for another time; commands named behind
it are measured alone.
"""

import importlib
import io
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from companion.cli import COMMANDS as ALL
from companion.cli import cli
from companion.paths import Home
from tests.pages.bench import YEARS, home_of

TIMES, TIMES_WHOLE = 8, 3
"""Own work is soon measured once more: on a busy computer the least of a few is far from the least."""
COMMANDS = (
    "history --all",
    "history --all --since 2000-01-01",
    "history 2-Rowan",
    "history 2-Rowan --since 2000-01-01",
    "sessions",
    "sessions --class-group 2-Rowan",
    "sessions --until 2026-10-01",
    "promises",
    "note",
    "note 2-Rowan",
    "note --today",
    "review --list",
    "review note --child seat9",
    "sheet {}.html",
    "sheet {}.html --wall",
    "privacy",
)
BY_NATURE = (
    "sessions --all",
    "sessions --all --json",
    "promises --all",
    "log verify",
    "log rebuild",
    *(f"export {{}} --format {form}" for form in ("csv", "jsonl", "parquet")),
)
"""They tell of every lesson, so their time is that of the lessons."""


@dataclass(frozen=True, slots=True)
class Spent:
    """Milliseconds of the processor that a command took after one year and after several."""

    one_ms: float
    many_ms: float
    first_ms: float
    """Until something was told, after several years."""
    whole_ms: float
    """Of the whole process, after several years."""

    def line(self, command: str) -> str:
        """Say it in one line of the table."""
        growth = self.many_ms / self.one_ms
        told = f"{self.one_ms:7.0f} {self.many_ms:8.0f}  {growth:6.2f} {self.first_ms:11.0f}"
        return f"{command:36} {told} {self.whole_ms:15.0f}"


def main(folder: Path, wanted: Sequence[str] = ()) -> None:
    """Print what commands take after one year and after five, and the growth. wanted: only these."""
    one, many = (home_of(folder, years) for years in (1, YEARS))
    for module in {place.partition(":")[0] for place in ALL.values()}:
        importlib.import_module(module)
    print(f"{'processor, ms':36} {'1 year':>7} {YEARS:>2} years  growth  first words   whole process")
    for command in wanted or (*COMMANDS, *BY_NATURE):
        print(_spent(command, one, many, 1 if command in BY_NATURE else TIMES).line(command), flush=True)
    print(f"{'--version':73} {_whole_ms([]):15.0f}")


def _spent(command: str, one: Home, many: Home, times: int) -> Spent:
    with tempfile.TemporaryDirectory() as folder:
        files = (f"{folder}/{number}" for number in range(5 * times))

        def words(home: Home) -> list[str]:
            return ["--home", str(home.folder), *command.format(next(files)).split()]

        small = [_own_ms(words(many), words(one)) for _ in range(times)]
        large = [_own_ms(words(one), words(many)) for _ in range(times)]
        return Spent(
            min(whole for whole, _ in small),
            min(whole for whole, _ in large),
            min(first for _, first in large),
            min(_whole_ms(words(many)) for _ in range(min(times, TIMES_WHOLE))),
        )


class _Listener(io.TextIOWrapper):
    """Output that notes when the first words came."""

    first_s = 0.0

    def write(self, words: str, /) -> int:
        """Note the moment, and forget the words."""
        self.first_s = self.first_s or time.process_time()
        return super().write(words)


def _own_ms(before: Sequence[str], words: Sequence[str]) -> tuple[float, float]:
    """Return what the command `words` takes of a process that has done the same for another home.

    The second figure is what it took until it told something.
    """
    reading, writing = os.pipe()
    child = os.fork()
    if not child:
        code = 1
        try:
            nothing = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nothing, 1)
            os.dup2(nothing, 2)
            cli(list(before), prog_name="companion", standalone_mode=False)
            sys.stdout = listener = _Listener(open(os.devnull, "wb"))  # noqa: PTH123, SIM115 - as it ends
            begun = time.process_time()
            cli(list(words), prog_name="companion", standalone_mode=False)
            ended = time.process_time()
            figures = (1000 * (at - begun) for at in (ended, listener.first_s or ended))
            os.write(writing, " ".join(map(str, figures)).encode())
            code = 0
        finally:
            os._exit(code)
    os.close(writing)
    with os.fdopen(reading) as answer:
        spent = answer.read()
    if os.waitpid(child, 0)[1]:
        raise SystemExit(f"failed: companion {' '.join(words)}")
    whole, first = map(float, spent.split())
    return whole, first


def _whole_ms(words: Sequence[str]) -> float:
    typed = [sys.executable, "-m", "companion", *(words or ["--version"])]
    with subprocess.Popen(typed, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:
        _, _, spent = os.wait4(process.pid, 0)
        process.returncode = 0
    return 1000 * (spent.ru_utime + spent.ru_stime)


if __name__ == "__main__":
    if sys.argv[1:]:
        main(Path(sys.argv[1]), sys.argv[2:])
    else:
        with tempfile.TemporaryDirectory() as folder:
            main(Path(folder))
