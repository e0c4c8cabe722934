"""The command line. Each command lives in a module of `companion.commands`, loaded when it is used."""

import importlib
import logging
import os
import sys
from contextlib import suppress
from pathlib import Path

import click
from click.core import ParameterSource

from companion.commands.in_words import in_words, teach_click
from companion.commands.terminal import guard_streams
from companion.errors import CompanionError
from companion.language import ENGLISH, _, later, speak
from companion.paths import Home, default_home
from companion.settings.chosen_language import chosen_language
from companion.typed import type_with

COMMANDS_BY_NEED = {
    later("A lesson"): {
        "start": "companion.commands.background:start",
        "open": "companion.commands.lesson:open_",
        "status": "companion.commands.background:status",
        "mark": "companion.commands.lesson:mark",
        "phase": "companion.commands.lesson:phase",
        "undo": "companion.commands.lesson:undo",
        "jot": "companion.commands.lesson:jot",
        "pause": "companion.commands.lesson:pause",
        "resume": "companion.commands.lesson:resume",
        "name": "companion.commands.name:name",
        "close": "companion.commands.lesson:close",
        "stop": "companion.commands.background:stop",
    },
    later("After it"): {
        "review": "companion.commands.review:review",
        "settle": "companion.commands.settle:settle",
        "note": "companion.commands.note:note",
        "promises": "companion.commands.promises:promises_",
        "sheet": "companion.commands.sheet:sheet",
        "pictures": "companion.commands.pictures:pictures",
        "sessions": "companion.commands.sessions:sessions",
        "history": "companion.commands.history:history",
        "pages": "companion.commands.pages:pages",
        "reopen": "companion.commands.settle:reopen",
    },
    later("Get ready"): {
        "init": "companion.commands.init:init",
        "doctor": "companion.commands.doctor:doctor",
        "rehearse": "companion.commands.rehearse:rehearse",
        "keys": "companion.commands.keys:keys",
        "timetable": "companion.commands.timetable:timetable",
        "phrases": "companion.commands.phrases:phrases",
        "devices": "companion.commands.devices:devices",
        "models": "companion.commands.models:models",
        "autostart": "companion.commands.autostart:autostart",
        "run": "companion.commands.background:run",
    },
    later("Look closer"): {
        "demo": "companion.commands.demo:demo",
        "replay": "companion.commands.replay:replay",
        "spot": "companion.commands.spot:spot",
        "log": "companion.commands.log:log",
        "export": "companion.commands.export:export",
        "school": "companion.commands.school:school",
        "forget": "companion.commands.forget:forget",
        "privacy": "companion.commands.privacy:privacy",
        "bench": "companion.commands.bench:bench",
        "bench-live": "companion.commands.bench_live:bench_live",
        "bench-weeks": "companion.commands.bench_weeks:bench_weeks",
        "bench-school": "companion.commands.bench_school:bench_school",
    },
}
"""Name of each command and where it lives, by when a person needs it: the everyday ones first."""

COMMANDS = {name: place for group in COMMANDS_BY_NEED.values() for name, place in group.items()}

MAKES_A_HOME = ("init", "demo", "run")
"""Commands that may begin in a folder that is not there yet."""


teach_click()


class LazyGroup(click.Group):
    """A group that imports a command's module only when the command is used or listed."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's own signature
        """Return the names of all commands, as `--help` shows them."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Return the command called `cmd_name`."""
        if cmd_name not in COMMANDS:
            return None
        module, name = COMMANDS[cmd_name].split(":")
        command = getattr(importlib.import_module(module), name)
        assert isinstance(command, click.Command)
        return in_words(command)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Speak the language of the home that is meant before anything is said, and then read the rest."""
        meant = click.Command(
            None,
            params=[one for one in self.params if one.name in ("home", "profile")],
            add_help_option=False,
            context_settings={"ignore_unknown_options": True, "allow_interspersed_args": False},
        )
        given = meant.make_context(ctx.info_name, list(args), resilient_parsing=True).params
        _speak_for(given["home"], given["profile"])
        return super().parse_args(ctx, args)

    def format_help(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the help."""
        click.Command.format_help(in_words(self), ctx, formatter)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the commands, each with its first sentence, under the need that they serve."""
        for need, group in COMMANDS_BY_NEED.items():
            commands = [(name, self.get_command(ctx, name)) for name in group]
            with formatter.section(_(need)):
                formatter.write_dl([(name, one.get_short_help_str()) for name, one in commands if one])


@click.group(
    cls=LazyGroup, invoke_without_command=True, context_settings={"help_option_names": ["-h", "--help"]}
)
@click.version_option(
    package_name="lesson-companion", prog_name="companion", help="Show the version and exit."
)
@click.option(
    "--home",
    # Whether it may be read is told by `_home`, as all else is.
    type=click.Path(path_type=Path, readable=False),
    envvar="COMPANION_HOME",
    help="Folder for settings and session log, private to you.",
)
@click.option(
    "--profile",
    envvar="COMPANION_PROFILE",
    help="Whose settings and lessons, where several teach in one room: a name for each after the first.",
)
@click.pass_context
def cli(ctx: click.Context, home: Path | None, profile: str | None) -> None:
    """Lesson Companion: whole-class marks by voice or key, from the lesson to the hand-off note.

    Without a command it starts the companion, if it does not run, and opens the first page.
    """
    ctx.obj = _home(ctx, home) if home else default_home()
    if profile:
        ctx.obj = _of_profile(ctx, ctx.obj, profile)
    if ctx.invoked_subcommand is None:
        from companion.commands.first_page import open_first_page  # noqa: PLC0415 - no other command needs it

        open_first_page(ctx.obj)


def _speak_for(folder: Path | None, profile: str | None) -> None:
    """Speak the language of a home, and say commands as they are typed for it."""
    home = Home(folder.expanduser()) if folder else default_home()
    with suppress(CompanionError):  # a name that can be none is told by `_of_profile`
        home = home.of_profile(profile) if profile else home
    speak(chosen_language(home.settings).own or ENGLISH)
    type_with(home.program, COMMANDS)


def _home(ctx: click.Context, folder: Path) -> Home:
    """Return the home in `folder`. Raises CompanionError for one that was typed and can't be meant, and for
    another user's.
    """
    folder = folder.expanduser()
    typed = ctx.get_parameter_source("home") is ParameterSource.COMMANDLINE
    try:
        there = folder.is_dir()
        closed = there and not os.access(folder, os.R_OK | os.X_OK)
    except PermissionError:
        there, closed = True, True
    if closed:
        raise CompanionError(
            _("The folder {folder} is not open to you.", folder=folder),
            safe=_("Nothing was changed."),
            remedy=_("Name a folder of your own with --home."),
        )
    if typed and not there and ctx.invoked_subcommand not in MAKES_A_HOME:
        raise CompanionError(
            _("There is no folder {folder}.", folder=folder),
            safe=_("Nothing was made."),
            remedy=_(
                "Correct its name, or begin anew there with: {command}",
                command=f"{Home(folder).program} init",
            ),
        )
    return Home(folder)


def _of_profile(ctx: click.Context, home: Home, profile: str) -> Home:
    """Return the home of a profile. Raises CompanionError for one that is not there and can't begin now."""
    own = home.of_profile(profile)
    if not own.folder.is_dir() and ctx.invoked_subcommand not in MAKES_A_HOME:
        raise CompanionError(
            _("There is no profile “{profile}” yet.", profile=profile),
            safe=_("Nothing was made."),
            remedy=_("Correct its name, or begin it with: {command}", command=f"{own.program} init"),
        )
    return own


def main() -> None:
    """Run the command line; a CompanionError becomes its sentences and its exit code."""
    # Everything that the companion writes is for this user only.
    os.umask(0o077)
    guard_streams()
    # What goes wrong is told by the commands themselves; the program's own log is the running companion's.
    logging.getLogger("companion").addHandler(logging.NullHandler())
    try:
        cli(prog_name="companion")
    except CompanionError as error:
        click.echo(str(error), err=True)
        sys.exit(error.exit_code)
