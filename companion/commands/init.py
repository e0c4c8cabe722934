"""`companion init`: a starter configuration from a few plain questions."""

import click
import tomlkit
from rich.console import Console

from companion.commands.first_day import foretold, learn_from_synthetic_voices
from companion.errors import CompanionError
from companion.language import ENGLISH, _, later, speak
from companion.listening.detection.synthesiser import is_installed
from companion.listening.engines import is_english
from companion.listening.voice.cues import SUGGESTED
from companion.paths import Home
from companion.settings.file import put_language, replace
from companion.settings.phrase_packs import LANGUAGES, starter_text
from companion.settings.settings import Settings, parse_settings

TABLE_NAMES = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
CAUTION = later(
    "Before the first lesson: tell your school. A microphone near children and records about children"
    " are matters of your school's policy and the law of your place, which come first."
    " No sound is kept; children are initials or seat numbers, never names."
)


@click.command()
@click.option("--yes", is_flag=True, help="Ask nothing; take the starter values.")
@click.option(
    "--language",
    type=click.Choice(LANGUAGES),
    default="en",
    show_default=True,
    help="Language of the phrases, and of pages, terminal and note.",
)
@click.option("--force", is_flag=True, help="Write over settings that are there already.")
@click.pass_obj
def init(home: Home, *, yes: bool, language: str, force: bool) -> None:
    """Write a starter configuration."""
    path = home.create().settings
    if path.exists() and not force:
        raise CompanionError(
            _("There are settings already in {path}.", path=path),
            safe=_("They were not changed."),
            remedy=_("Edit that file, or start anew with --force."),
        )
    document = tomlkit.parse(starter_text(language))
    if language != ENGLISH:
        put_language(document, language)
        speak(language)
    if not yes:
        _ask(document)
    text = tomlkit.dumps(document)
    parse_settings(text, str(path))
    replace(path, text)
    click.echo(_("Your settings are in {path}", path=path))
    _first_day(home, parse_settings(text, str(path)))
    click.echo(_(CAUTION))


def _first_day(home: Home, settings: Settings) -> None:
    """Have a cue of one's own learnt, where that can be done at once, and say what to expect."""
    vocabulary = settings.vocabulary(settings.plan())
    console = Console(highlight=False)
    told = learn_from_synthetic_voices if is_english(vocabulary) and is_installed() else None
    sentences = told(console, home, vocabulary) if told else foretold(home, vocabulary)
    try:
        for sentence in sentences:
            console.print(sentence, markup=False, soft_wrap=True)
    except CompanionError as error:
        # The settings stand; what is wrong with the cue is told like everything else.
        console.print(f"{error.what} {error.remedy}", markup=False, soft_wrap=True)


def _ask(document: tomlkit.TOMLDocument) -> None:
    """Ask what differs from school to school; Enter keeps what stands there."""
    school, listening = document["school"], document["listening"]
    assert isinstance(school, tomlkit.items.Table)
    assert isinstance(listening, tomlkit.items.Table)
    school["name"] = click.prompt(_("What is your school called?"), default=str(school["name"]))
    school["room"] = click.prompt(_("And your room?"), default=str(school["room"]))
    count = click.prompt(
        _("How many tables does it have?"),
        type=click.IntRange(0, len(TABLE_NAMES)),
        default=len(school["tables"]),
    )
    school["tables"] = list(TABLE_NAMES[:count])
    listening["cue"] = click.prompt(
        _(
            "Which words will you say right before a phrase? Two that nobody says otherwise. "
            "These come with the companion, learnt from many synthetic voices: {cues}",
            cues=", ".join(SUGGESTED),
        ),
        default=str(listening["cue"]),
    )
