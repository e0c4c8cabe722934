"""`companion rehearse`: learn the teacher's own voice, at the microphone or from recordings."""

from collections.abc import Sequence
from pathlib import Path

import click
import numpy as np
from rich.console import Console
from rich.progress import Progress

from companion.commands.first_day import learn_from_synthetic_voices
from companion.commands.guided_rehearsal import rehearse_aloud, stopped
from companion.errors import CompanionError
from companion.language import _, later
from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.takes import Takes, read_takes
from companion.listening.microphone import files as sound
from companion.listening.rehearsal.guide import steps_for
from companion.listening.rehearsal.taught import NO_SOUND, teach_again, teach_voice
from companion.listening.sound import Sound
from companion.listening.voice.dropped import dropped_count
from companion.listening.voice.features import reviewed_count
from companion.listening.voice.files import forget, go_back, is_learnt
from companion.paths import Home
from companion.settings.settings import TABLE, Settings, load_settings

CAUTION = later(
    "Voice features are personal data. They stay in a private file on this computer; your school's policy"
    " and the law of your place come first. Delete them with: companion rehearse --forget"
)


NOBODY_REFUSED = later(
    "Until your voice is learnt no voice is refused: whoever says cue and command makes a mark."
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
@click.option("--top-up", is_flag=True, help="Learn again, with what you confirmed and dropped in reviews.")
@click.option(
    "--synthetic",
    is_flag=True,
    help="Learn your cue from synthetic voices, for the days before you rehearse.",
)
@click.option("--back", "goes_back", is_flag=True, help="Go back to what was learnt before the last time.")
@click.option("--forget", "forgets", is_flag=True, help="Delete what was learnt of your voice.")
@click.pass_obj
def rehearse(
    home: Home,
    *,
    takes: Path | None,
    talk: tuple[Path, ...],
    microphone: str | None,
    top_up: bool,
    synthetic: bool,
    goes_back: bool,
    forgets: bool,
) -> None:
    """Learn your own voice, and say what to expect.

    Some minutes at the microphone, guided; or from a folder of recordings. From then on the engine "auto"
    listens with what was learnt.
    """
    if forgets:
        found = forget(home.voice)
        click.echo(
            _("What was learnt of your voice is deleted.") if found else _("Nothing was kept of your voice.")
        )
        return
    if goes_back:
        _go_back(home)
        return
    settings = load_settings(home.settings)
    vocabulary = settings.vocabulary(settings.plan())
    console = Console(highlight=False, markup=False)
    if top_up:
        _top_up(console, home, vocabulary, consented=settings.listening.learn_from_reviews)
        return
    if synthetic:
        for sentence in learn_from_synthetic_voices(console, home, vocabulary):
            console.print(sentence, markup=False, soft_wrap=True)
        return
    console.print(_(CAUTION), markup=False, soft_wrap=True)
    if not is_learnt(home.voice):
        console.print(_(NOBODY_REFUSED), markup=False, soft_wrap=True)
    talked = [sound.whole(path) for path in talk]
    if takes is not None:
        recorded: Takes = read_takes(takes, vocabulary)
        room = NO_SOUND
    else:
        recorded, said, room = _at_the_microphone(console, settings, vocabulary, microphone)
        talked += said
    try:
        told = _teach(console, home, vocabulary, takes=recorded, talk=talked, room=room)
    except KeyboardInterrupt:
        raise stopped() from None
    for sentence in told:
        console.print(sentence, markup=False, soft_wrap=True)
    kept = _("Learnt, and kept in {folder}. The sound is gone.", folder=home.voice)
    console.print(kept, markup=False, soft_wrap=True)
    if reviewed_count(home.voice) or dropped_count(home.voice):
        again = _("Add again what you confirmed and dropped in reviews, with: companion rehearse --top-up")
        console.print(again, markup=False, soft_wrap=True)


def _top_up(console: Console, home: Home, vocabulary: Vocabulary, *, consented: bool) -> None:
    if not reviewed_count(home.voice) and not dropped_count(home.voice):
        raise CompanionError(
            _("Nothing from reviews is kept to learn from."),
            safe=_("What was learnt before is as it was."),
            remedy=_(
                "Confirm near misses or drop false marks in a review, and settle the count. Within a minute "
                "after that it can be learnt from, if the companion ran on since the lesson."
            )
            if consented
            else _("Set learn_from_reviews = true under [listening], and confirm near misses in the review."),
        )
    with console.status(_("learning")):
        told = teach_again(vocabulary, home.voice)
    for sentence in told:
        console.print(sentence, markup=False, soft_wrap=True)
    back = _("Go back to what was learnt before with: companion rehearse --back")
    console.print(back, markup=False, soft_wrap=True)


def _go_back(home: Home) -> None:
    if not go_back(home.voice):
        raise CompanionError(
            _("Nothing that was learnt before is kept."),
            safe=_("What was learnt before is as it was."),
            remedy=_("Rehearse again: companion rehearse"),
        )
    click.echo(_("What was learnt before is in use again, from the next lesson on."))


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
        _(
            "This takes about {minutes} minutes. Stand where you teach, and speak as you do in class."
            " Ctrl+C stops and changes nothing.",
            minutes=minutes,
        ),
        markup=False,
        soft_wrap=True,
    )
    named = microphone or settings.listening.microphone or None
    guide = rehearse_aloud(console, named, steps)
    room = np.concatenate((NO_SOUND, *guide.room))
    return guide.takes_of, [np.concatenate(guide.talk)] if guide.talk else [], room


def _teach(
    console: Console, home: Home, vocabulary: Vocabulary, *, takes: Takes, talk: Sequence[Sound], room: Sound
) -> tuple[str, ...]:
    with Progress(console=console, transient=True) as progress:
        task = progress.add_task(_("learning, and hearing what was left out"), total=1.0)
        return teach_voice(
            vocabulary,
            takes,
            talk=talk,
            room=room,
            folder=home.create().voice,
            on_part=lambda done: progress.update(task, completed=done),
        )
