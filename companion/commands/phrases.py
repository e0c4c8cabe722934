"""`companion phrases`: what is said to the companion, and how well it can be heard."""

import json
from dataclasses import asdict

import click
from rich.console import Console
from rich.table import Table

from companion.errors import CompanionError
from companion.language import _, decimal, many
from companion.lesson.vocabulary import Vocabulary
from companion.listening.engines import Voice, choose, is_english
from companion.listening.rehearsal.phrase_check import Grade, Report, check
from companion.paths import Home
from companion.settings.settings import load_settings


@click.group()
def phrases() -> None:
    """Check what the companion listens for."""


@phrases.command("check")
@click.option("--cue", help="What is said right before each phrase; by default what the settings say.")
@click.option("--phrase", "given", multiple=True, help="Check this and not the settings; may be repeated.")
@click.option("--name", "names", multiple=True, help="A class group or another name that is said in lessons.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a phrase.")
@click.pass_obj
def check_phrases(
    home: Home, *, cue: str | None, given: tuple[str, ...], names: tuple[str, ...], as_json: bool
) -> None:
    """Judge whether cue and phrases are long enough, unlike each other, and rare in talk.

    Without --phrase the phrases, phases and class groups of your settings are checked. In another language
    than English only the words are: whether the speech model of the language knows each of them.
    """
    if given or cue:
        vocabulary = Vocabulary(tuple(dict.fromkeys(given)), cue=cue)
    else:
        vocabulary, known = _from_settings(home)
        names = (*known, *names)
    if not is_english(vocabulary):
        _check_words(home, vocabulary)
        return
    reports = check(vocabulary, names)
    if as_json:
        for report in reports:
            click.echo(json.dumps({**asdict(report), "said": " ".join(report.said)}, ensure_ascii=False))
        return
    _show(reports, vocabulary.cue)


def _check_words(home: Home, vocabulary: Vocabulary) -> None:
    choose(vocabulary, "vosk", Voice(models=home.models))
    click.echo(
        _(
            "The speech model for “{language}” knows every word of {phrases} phrases. How like "
            "each other they sound can only be checked for English: choose phrases of two or "
            "three long words, and try them.",
            language=vocabulary.language,
            phrases=len(vocabulary.phrases),
        )
    )


def _from_settings(home: Home) -> tuple[Vocabulary, tuple[str, ...]]:
    if not home.settings.is_file():
        raise CompanionError(
            _("There are no settings in {settings}.", settings=home.settings),
            remedy=_("Make them with “companion init”, or name the phrases with --cue and --phrase."),
        )
    settings = load_settings(home.settings)
    vocabularies = [settings.vocabulary(section.plan()) for section in settings.plans]
    spoken = dict.fromkeys(phrase for vocabulary in vocabularies for phrase in vocabulary.phrases)
    phases = (phase.name for section in settings.plans for phase in section.phases)
    names = tuple(dict.fromkeys(name for name in phases if name not in spoken))
    listening = settings.listening
    return Vocabulary(tuple(spoken), cue=listening.cue, language=listening.language), names


def _show(reports: list[Report], cue: str | None) -> None:
    near = _("nearly the same")
    table = Table(_("phrase"), _("is said"), _("most like"), _("verdict"), _("why"), near, _("better"))
    for report in reports:
        table.add_row(
            _("{phrase} (cue)", phrase=report.text) if report.text == cue else report.text,
            " ".join(report.said),
            f"{report.nearest} ({decimal(report.difference, 1)})" if report.nearest else "",
            _(report.verdict.value),
            "; ".join(report.remarks),
            ", ".join(report.near),
            ", ".join(report.proposals),
        )
    console = Console(markup=False)
    console.print(table)
    poor = sum(report.verdict is Grade.POOR for report in reports)
    cue_hours = next((report.hours_apart for report in reports if report.text == cue), None)
    if cue_hours is not None:
        console.print(
            _("The cue's words come up by chance about once in {hours} of talk.", hours=_rounded(cue_hours))
        )
    console.print(
        _(
            "“Nearly the same” are other words that might be taken for the phrase if they, and nothing more,"
            " are said in its place. A sentence that only begins like a command hardly ever makes a mark:"
            " pause for a moment behind a command."
        )
    )
    explained = _("The number after “most like” says by how many phonemes' worth the two differ.")
    changed = (
        many("{count} should be changed.", "{count} should be changed.", poor)
        if poor
        else _("None of them has to be changed.")
    )
    console.print(f"{explained} {changed}")


def _rounded(hours: float) -> str:
    if hours >= 1_000_000:
        return _("a million hours or more")
    return _("an hour") if round(hours) <= 1 else _("{hours} hours", hours=f"{hours:,.0f}")
