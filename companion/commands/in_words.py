"""The help of commands and click's own words, in the language that is spoken here.

A command's help is its docstring and what its options say; it is written in English and translated when it is
shown, paragraph by paragraph.
"""

import gettext
import inspect
from copy import copy

import click

from companion.language import _, form, later, later_many

WHOLE_SENTENCE = 200
"""Letters of a help text in a list of commands: all of its first sentence."""
CLICKS_OWN = (
    later("Usage:"),
    later("Options"),
    later("Commands"),
    later("Positional arguments"),
    later("Show this message and exit."),
    later("Show the version and exit."),
    later("%(prog)s, version %(version)s"),
    later("default: {default}"),
    later("required"),
    later("Try '{command} {option}' for help."),
    later("Error: {message}"),
    later("Aborted!"),
    later("Missing command."),
    later("Missing argument"),
    later("Missing option"),
    later("Missing parameter"),
    later("Choose from:\n\t{choices}"),
    later("Invalid value: {message}"),
    later("Invalid value for {param_hint}: {message}"),
    later("No such option {name!r}."),
    later("No such command {name!r}."),
    later("Option {name!r} does not take a value."),
    later("Argument {name!r} takes {nargs} values."),
    later("{value!r} is not a valid {number_type}."),
    later("{value} is not in the range {range}."),
    later("{name} {filename!r} does not exist."),
    later("{name} {filename!r} is a file."),
    later("{name} {filename!r} is a directory."),
    later("{name} {filename!r} is not readable."),
    later("{name} {filename!r} is not writable."),
    later("Error: invalid input"),
    later("text"),
    later("file"),
    later("directory"),
    later("path"),
    later("integer"),
    later("integer range"),
    later("float"),
    later("float range"),
)
"""What click says by itself, as far as a user of these commands can meet it."""
CLICKS_COUNTED = (
    later_many("Did you mean {possibility}?", "(Did you mean one of: {possibilities}?)"),
    later_many("Got unexpected extra argument ({args})", "Got unexpected extra arguments ({args})"),
    later_many("{value!r} is not {choice}.", "{value!r} is not one of {choices}."),
    later_many("Option {name!r} requires an argument.", "Option {name!r} requires {nargs} arguments."),
)


def teach_click() -> None:
    """Let click say its own words by our catalogues, where the standard library has none for it."""
    gettext.dgettext = _of_ours
    gettext.dngettext = _counted_of_ours


def _of_ours(domain: str, message: str) -> str:  # noqa: ARG001 - the library's own signature
    return _(message)


def _counted_of_ours(domain: str, msgid1: str, msgid2: str, n: int) -> str:  # noqa: ARG001 - the same
    return form(msgid1, msgid2, n)


def in_words(command: click.Command) -> click.Command:
    """Return a command that says its help, and asks its questions, in the language that is spoken here."""
    said = copy(command)
    # click keeps this option as it was when it was first shown, in the language of then.
    said._help_option = None  # noqa: SLF001
    said.help = "\n\n".join(map(_, paragraphs(command.help or "")))
    said.short_help = said.get_short_help_str(WHOLE_SENTENCE)
    said.params = [_parameter(parameter) for parameter in command.params]
    if isinstance(said, click.Group) and isinstance(command, click.Group):
        said.commands = {name: in_words(one) for name, one in command.commands.items()}
    return said


def paragraphs(help_text: str) -> list[str]:
    """Return the paragraphs of a docstring, each in one line: what is translated at once."""
    return [" ".join(part.split()) for part in inspect.cleandoc(help_text).split("\n\n")]


def _parameter(parameter: click.Parameter) -> click.Parameter:
    said = copy(parameter)
    said.type = copy(parameter.type)
    said.type.name = _(parameter.type.name)
    if isinstance(said, click.Option):
        said.help = _(said.help or "")
        said.prompt = _(said.prompt) if said.prompt else said.prompt
    return said
