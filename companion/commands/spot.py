"""`companion spot`: the bare spotter on a sound file."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
from rich.console import Console
from rich.table import Table

from companion.language import _, decimal
from companion.lesson.vocabulary import Vocabulary
from companion.listening.candidate import Candidate
from companion.listening.engines import Voice, engine_names, open_spotter
from companion.listening.microphone import files as sound
from companion.listening.spotter import Spotter
from companion.paths import Home

_FILE = click.Path(path_type=Path, dir_okay=False)


@click.command()
@click.argument("audio", type=_FILE)
@click.option(
    "--phrase", "phrases", multiple=True, required=True, help="What to listen for; give it again for more."
)
@click.option("--cue", help="What is said right before each phrase.")
@click.option(
    "--takes", type=click.Path(path_type=Path, file_okay=False), help="Folder with takes of the phrases."
)
@click.option(
    "--talk", multiple=True, type=_FILE, help="The same voice saying other things; may be repeated."
)
@click.option(
    "--engine", type=click.Choice(engine_names()), default="auto", show_default=True, help="What listens."
)
@click.option("--language", default="en", show_default=True, help="Language of the phrases.")
@click.option(
    "--json", "as_json", is_flag=True, help="One JSON object a candidate, each on a line of its own."
)
@click.pass_obj
def spot(  # noqa: PLR0917 (click hands over by name)
    home: Home,
    audio: Path,
    phrases: tuple[str, ...],
    cue: str | None,
    takes: Path | None,
    talk: tuple[Path, ...],
    engine: str,
    language: str,
    as_json: bool,
) -> None:
    """List every place in AUDIO that might be one of the phrases, near misses too.

    AUDIO is a WAV, FLAC, OGG or MP3 file of any rate, width and number of channels.
    """
    sound.duration_s(audio)
    vocabulary = Vocabulary(phrases=tuple(dict.fromkeys(phrases)), cue=cue or None, language=language)
    spotter = open_spotter(vocabulary, engine, Voice(takes=takes, talk=talk, models=home.models))
    candidates = _listen(spotter, audio)
    if as_json:
        for candidate in candidates:
            print(json.dumps(_line(candidate), ensure_ascii=False), flush=True)
    else:
        _show(candidates, spotter.name)


def _listen(spotter: Spotter, audio: Path) -> Iterator[Candidate]:
    for block in sound.blocks(audio, warn=lambda sentence: click.echo(sentence, err=True)):
        yield from spotter.hear(block)
    yield from spotter.finish()


def _line(candidate: Candidate) -> dict[str, Any]:
    return {
        "phrase": candidate.phrase,
        "begin_s": candidate.begin_ms / 1000,
        "end_s": candidate.end_ms / 1000,
        "decided_s": candidate.decided_ms / 1000,
        "confidence": round(candidate.confidence, 3),
        "fired": candidate.fired,
        "engine": candidate.engine,
        "reasons": list(candidate.reasons),
    }


def _show(candidates: Iterator[Candidate], engine: str) -> None:
    headings = (_("begin"), _("end"), _("decided"), _("phrase"), _("confidence"), "", _("why"))
    table = Table(*headings, title=_("Heard by {engine}", engine=engine))
    for found in candidates:
        table.add_row(
            *(f"{decimal(ms / 1000, 2)} s" for ms in (found.begin_ms, found.end_ms, found.decided_ms)),
            found.phrase or f"({_('the cue alone')})",
            decimal(found.confidence, 2),
            _("fired") if found.fired else _("near miss"),
            "; ".join(found.reasons),
        )
    if table.row_count:
        Console(markup=False).print(table)
    else:
        click.echo(_("Nothing in it was like a phrase."))
