"""Every command with every option wrong: a plain sentence, no traceback, no odd word."""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import chdir
from pathlib import Path

import click
import pytest

from companion.cli import cli
from companion.log.store import open_log
from tests.commands.conftest import Run
from tests.commands.test_review import LESSON
from tests.lesson.builders import AT, OPENED
from tests.systems import needs_linux

WRONG = ("", "nosuch", "nan", "-1", "99999999999999999999", "🎉", "two\nlines")
WORDS = ("nosuch", "🎉")
"""What no number and no choice can be."""
GOES_ON = {
    "run",
    "start",
    "stop",
    "pages",
    "rehearse",
    "devices",
    "demo",
    "bench",
    "bench-live",
    "bench-school",
    "bench-weeks",
    "doctor",
    "phrases check",
    "models check",
    "spot",
    "replay",
}
"""Commands that go on for long or listen; of them only what can't be parsed is tried."""
ODD = ("Traceback", "%Y", "Section", "Errno", "codec", "by by", "margin +0", " 1 sessions", "nan s")
TAKES_ANY_WORDS = {
    ("name", "class_group"),
    ("review add", "routine"),
    ("review add", "why"),
    ("review change", "routine"),
    ("review drop", "reason"),
    ("review note", "line"),
    ("review note", "family"),
}
"""What a teacher may write as she likes: there nothing is wrong, and it is done."""
TAKES_A_NEW_FILE = click.Path, click.File
"""A file or folder that is written may have any name."""
GIVEN = {
    "kind": "praise",
    "marks": "m3",
    "mark": "m3",
    "items": "m3",
    "near_misses": "c7",
    "state": "off",
    "class_group": "4-Hazel",
    "phase": "arrival",
    "child": "seat 1",
    "phrases": "praise",
    "language": "en",
}
"""What is right where a command needs it."""


def _commands(
    command: click.Command, path: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    if not isinstance(command, click.Group):
        yield path, command
        return
    context = click.Context(command)
    for name in command.list_commands(context):
        found = command.get_command(context, name)
        assert found is not None
        yield from _commands(found, (*path, name))


def _needed(command: click.Command, without: str) -> list[str]:
    """Return the arguments and options that a command can't do without, but for one."""
    words = []
    for parameter in command.params:
        if parameter.required and parameter.name != without:
            right = GIVEN.get(parameter.name or "", "/nowhere/x")
            words += [parameter.opts[0], right] if isinstance(parameter, click.Option) else [right]
    return words


def _wrongs(path: tuple[str, ...], command: click.Command) -> Iterator[tuple[list[str], bool]]:
    """Yield the words of a command, each with one thing wrong, and whether it may be done all the same."""
    yield [*path, "--nosuch"], False
    for parameter in command.params:
        taken = (" ".join(path), parameter.name) in TAKES_ANY_WORDS or isinstance(
            parameter.type, TAKES_A_NEW_FILE
        )
        needed = _needed(command, parameter.name or "")
        goes_on = GOES_ON & {path[0], " ".join(path)}
        if goes_on and not isinstance(parameter.type, click.Choice | click.types._NumberRangeBase):
            continue
        for wrong in WORDS if goes_on else WRONG:
            if isinstance(parameter, click.Argument):
                yield [*path, "--", wrong, *needed], taken
            elif isinstance(parameter, click.Option) and not parameter.is_flag:
                yield [*path, *needed, parameter.opts[0], *[wrong] * parameter.nargs], taken


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a home with starter settings and one lesson."""
    from companion.settings.phrase_packs import starter_text  # noqa: PLC0415

    home = tmp_path_factory.mktemp("kept")
    (home / "companion.toml").write_text(starter_text("en"), encoding="utf-8")
    with open_log(home / "sessions.db") as log:
        session = log.open_session(OPENED, AT)
        for body in LESSON:
            log.append(session.id, body, at=AT, offset_ms=0)
    return home


@pytest.mark.parametrize(
    ("path", "command"), list(_commands(cli)), ids=lambda it: " ".join(it) if isinstance(it, tuple) else ""
)
def test_what_is_typed_wrong_is_told_plainly(
    call: Run, kept: Path, tmp_path: Path, path: tuple[str, ...], command: click.Command
) -> None:
    """Whatever is typed, the answer is a sentence of ours; what was not done does not end as if it were."""
    for words, taken in _wrongs(path, command):
        shutil.rmtree(tmp_path / "home", ignore_errors=True)
        shutil.copytree(kept, tmp_path / "home")
        with chdir(tmp_path):
            done = call(*words, code=None)
        told = done.stdout + done.stderr
        assert told
        assert not [odd for odd in ODD if odd in told], (words, told)
        assert done.returncode or taken, (words, told)


@needs_linux
@pytest.mark.parametrize("words", [("status",), ("init", "--yes")])
def test_a_home_that_is_not_open_to_the_user_is_told(tmp_path: Path, words: tuple[str, ...]) -> None:
    """Another user's, itself or in a folder that is closed: nothing of it is told, and nothing is done."""
    home = tmp_path / "theirs" / "companion"
    home.mkdir(parents=True)
    as_anybody = ["setpriv", "--bounding-set=-dac_override,-dac_read_search"] if os.geteuid() == 0 else []
    for closed in (home, home.parent):
        closed.chmod(0)
        command = [*as_anybody, sys.executable, "-m", "companion", "--home", str(home), *words]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        assert (done.returncode, done.stdout) == (2, "")
        assert done.stderr.startswith(f"The folder {home} is not open to you. Nothing was changed.")
    home.parent.chmod(0o700)
    home.chmod(0o700)
