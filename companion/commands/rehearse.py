"""`companion rehearse`: learn the teacher's own voice, at the microphone or from recordings."""

from collections.abc import Sequence
from pathlib import Path

import click
import numpy as np
from rich.console import Console
from rich.progress import Progress

from companion.commands.rehearse_aloud import rehearse_aloud, stopped
from companion.config import TABLE, Settings, load_settings
from companion.listening import sound
from companion.listening.candidate import Sound, Vocabulary
from companion.listening.enrolled import Learnt, learn_voice
from companion.listening.enrolment import Takes, read_takes
from companion.listening.guide import steps_for
from companion.listening.rehearsal import Forecast, foretell, voice_above_room
from companion.listening.voice_files import forget, keep
from companion.paths import Home

CAUTION = (
    "Voice features are personal data. They stay in a private file on this computer; your school's policy"
    " and the law of your place come first. Delete them with: companion rehearse --forget"
)


@click.command()
@click.option(
    "--takes",
    type=click.Path(path_type=Path, file_okay=False),
    help="Learn from a folder of recordings instead: the cue's takes in cue/, at least five.",
)
@click.option(
    "--talk",
    type=click.Path(path_type=Path, dir_okay=False),
    multiple=True,
    help="A recording of you talking about other things, a minute or more.",
)
@click.option("--microphone", help="Part of a name; by default the one of the settings, or the system's own.")
@click.option("--forget", "forgets", is_flag=True, help="Delete what was learnt of your voice.")
@click.pass_obj
def rehearse(
    home: Home, *, takes: Path | None, talk: tuple[Path, ...], microphone: str | None, forgets: bool
) -> None:
    """Learn your own voice, and say what to expect.

    Some minutes at the microphone, guided; or from a folder of recordings. From then on the engine "auto"
    listens with what was learnt.
    """
    if forgets:
        found = forget(home.voice)
        click.echo(
            "What was learnt of your voice is deleted." if found else "Nothing was kept of your voice."
        )
        return
    settings = load_settings(home.settings)
    vocabulary = settings.vocabulary(settings.plan())
    console = Console(highlight=False)
    console.print(CAUTION, markup=False, soft_wrap=True)
    talked = [sound.whole(path) for path in talk]
    if takes is not None:
        recorded: Takes = read_takes(takes, vocabulary)
        room: Sound = np.zeros(0, np.int16)
    else:
        recorded, said, room = _at_the_microphone(console, settings, vocabulary, microphone)
        talked += said
    try:
        learnt, forecast = _learn(console, vocabulary, recorded, talked, room)
    except KeyboardInterrupt:
        raise stopped() from None
    path = keep(home.create().voice, learnt)
    for sentence in filter(None, (*forecast.sentences, voice_above_room(recorded, room))):
        console.print(sentence, markup=False, soft_wrap=True)
    console.print(f"Learnt, and kept in {path}. The sound is gone.", markup=False, soft_wrap=True)


def _at_the_microphone(
    console: Console, settings: Settings, vocabulary: Vocabulary, microphone: str | None
) -> tuple[Takes, list[Sound], Sound]:
    """Return the takes, the free talk and the sound of the room."""
    of_tables = [
        say
        for phrase in settings.phrases
        if TABLE in phrase.say
        for say in phrase.commands(settings.school.tables)
    ]
    steps = steps_for(vocabulary, once=of_tables)
    minutes = round(sum(step.about_s for step in steps) / 60)
    console.print(
        f"This takes about {minutes} minutes. Stand where you teach, and speak as you do in class."
        " Ctrl+C stops and changes nothing.",
        markup=False,
        soft_wrap=True,
    )
    named = microphone or settings.listening.microphone or None
    guide = rehearse_aloud(console, named, steps)
    room = np.concatenate((np.zeros(0, np.int16), *guide.room))
    return guide.takes_of, [np.concatenate(guide.talk)] if guide.talk else [], room


def _learn(
    console: Console, vocabulary: Vocabulary, takes: Takes, talk: Sequence[Sound], room: Sound
) -> tuple[Learnt, Forecast]:
    with Progress(console=console, transient=True) as progress:
        task = progress.add_task("learning", total=None)
        learnt = learn_voice(vocabulary, takes, [*talk, room] if len(room) else talk)
        progress.update(task, description="hearing what was left out", total=1.0)
        return learnt, foretell(
            vocabulary, learnt, takes, talk, lambda done: progress.update(task, completed=done)
        )
