"""The terminal in other languages: its helps and a day of commands leave nothing in English."""

import json
import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import click
import pytest

from companion.background.control import ControlServer, Message
from companion.cli import COMMANDS, cli
from companion.commands import in_words
from companion.paths import Home
from tests.catalogues import PARTING, found
from tests.commands.conftest import Run
from tests.commands.test_wrong import _commands
from tests.pages.days import whole_day
from tests.school_day import EIGHT, SETTINGS, TIMETABLE

pytest_plugins = ["tests.pseudo"]

WORD = re.compile(r"(?<![\w{-])[A-Za-z][a-z]+(?![\w}-])")
TYPED = re.compile(
    r"\w+-n\d+|`[^`]*`|\"[^\"]*\"|--?[a-z][\w-]*|\bcompanion(?: [a-z-]+)*|https?://\S+|(?:/[\w.-]+)+|\[\w+\]|[\w.]+\.\w+"
)
"""What is typed as it stands: options, command lines, names of promises, paths, files, tables."""
NAMES = {
    "Lesson",
    "Companion",
    "Alder",
    "Lane",
    "School",
    "Ctrl",
    "Esc",
    "Vosk",
    "Windows",
    "dBFS",
    "Hz",
    "MB",
}


@pytest.fixture(autouse=True)
def _help_anew(monkeypatch: pytest.MonkeyPatch, pseudo_language: None) -> None:
    """Let click ask anew for the words of its own option, which it keeps for a process."""
    assert pseudo_language is None
    monkeypatch.setattr(cli, "_help_option", None)


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Give a home with a timetable and a day of lessons in every state."""
    home = Home(tmp_path / "home").create()
    home.settings.write_text("\n".join((SETTINGS, TIMETABLE)), encoding="utf-8")
    whole_day(home.log, EIGHT)
    return home


def answer(message: Message) -> Message:
    """Answer as a companion does in whose lesson all goes well."""
    if message["do"] == "status":
        return {"session": "4-Hazel", "microphone": "…", "trouble": "…"}
    if message["do"] == "microphone":
        return {"listening": "on", "level_dbfs": -40.0, "trouble": ""}
    told = {"class_group": "4-Hazel", "phase": "arrival", "phases": ["arrival"], "undone": "…", "caution": ""}
    return told | {"praise": 1, "reminder": 0, "margin": 1, "seq": 3, "recorded": 1, "paused": False}


@pytest.fixture
def companion(home: Home) -> Iterator[None]:
    """Have something that answers as a companion does."""
    server = ControlServer(home.control, answer)
    yield
    server.close()


def typed_with(command: click.Command) -> set[str]:
    """Return the words of a command that are typed as they stand: its choices, defaults and places."""
    words: set[str] = set()
    for one in command.params:
        words |= {one.make_metavar(click.Context(command)), str(one.default), one.human_readable_name}
        if isinstance(one.type, click.Choice):
            words |= set(map(str, one.type.choices))
    if isinstance(command, click.Group):
        words |= set(command.commands)
    return {part for word in words for part in re.findall(r"[A-Za-z]+", word)}


def strings_in(value: object) -> Iterator[str]:
    """Yield every text within a value of JSON."""
    if isinstance(value, dict | list):
        for inner in value.values() if isinstance(value, dict) else value:
            yield from strings_in(inner)
    elif isinstance(value, str):
        yield value


def written_by_people(home: Home) -> set[str]:
    """Return the words that the teacher wrote into settings and log and the program does not say itself."""
    ours = {
        form.rpartition(PARTING)[-1]
        for one in found()
        for form in ([one.message] if isinstance(one.message, str) else one.message)
    }
    with closing(sqlite3.connect(home.log)) as db:
        bodies = [json.loads(body) for (body,) in db.execute("SELECT body FROM event")]
    texts = {*strings_in(bodies), *re.findall(r'"([^"]+)"', home.settings.read_text(encoding="utf-8"))} - ours
    return {word for text in texts for word in re.findall(r"[A-Za-z]+", text)}


def english_in(said: str, theirs: set[str]) -> list[str]:
    """Return the lines that have an English word in them that nobody but the program wrote."""
    return [line for line in said.splitlines() if set(WORD.findall(TYPED.sub("", line))) - theirs - NAMES]


@pytest.mark.usefixtures("home")
def test_no_help_says_anything_in_english(call: Run) -> None:
    """Of every command, with click's own words."""
    english = []
    names = {part for name in COMMANDS for part in name.split("-")}
    for path, command in [((), cli), *_commands(cli)]:
        typed = typed_with(command) | names
        if path and isinstance(group := cli.get_command(click.Context(cli), path[0]), click.Group):
            typed |= set(group.commands)
        english += [(*path, line) for line in english_in(call(*path, "--help").stdout, typed)]
    assert english == []


def test_what_click_says_of_wrong_words_is_not_english(call: Run) -> None:
    """Wherever something is typed wrong."""
    english = []
    for words in (
        "nosuch",
        "statu",
        "mark",
        "mark blame",
        "open --x",
        "log nosuch",
        "timetable --days x",
        "--home",
    ):
        done = call(*words.split(), code=None)
        english += english_in(
            done.stdout + done.stderr, {*words.split(), "x", "praise", "reminder", "status", "run", "start"}
        )
    assert english == []


def test_click_still_says_what_our_catalogues_have() -> None:
    """A word that click gave another form would be English again."""
    files = Path(click.__file__).parent.glob("*.py")
    code = "".join(path.read_text(encoding="utf-8") for path in files)
    said = re.sub(r'"\s+"', "", code).replace("\\n", "\n").replace("\\t", "\t")
    counted = [form for forms in in_words.CLICKS_COUNTED for form in forms]
    assert [words for words in (*in_words.CLICKS_OWN, *counted) if f'"{words}"' not in said] == []


DAY = (
    "status",
    "open 4-Hazel",
    "mark praise",
    "phase",
    "undo",
    "jot other",
    "pause",
    "resume",
    "close",
    "sessions",
    "review --list",
    "review keep all",
    "review add praise --phase arrival",
    "review back",
    "settle",
    "settle --rating so-so",
    "settle --unreviewed",
    "note",
    "note --today",
    "reopen --reason x",
    "promises",
    "promises --all",
    "history --all",
    "history nosuch",
    "timetable 2026-09-14",
    "keys --list",
    "pictures",
    "privacy",
    "log backups",
    "log verify",
    "log rebuild",
    "log purge",
    "forget --child B.K. --yes",
)


@pytest.mark.usefixtures("companion")
def test_no_command_of_a_day_says_anything_in_english(call: Run, home: Home) -> None:
    """From opening a lesson to what is kept of it."""
    theirs = written_by_people(home)
    english: dict[str, list[str]] = {}
    for words in DAY:
        done = call(*words.split(), code=None)
        if lines := english_in(done.stdout + done.stderr, theirs | set(words.split())):
            english[words] = lines
    assert english == {}
