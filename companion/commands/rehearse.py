"""`companion rehearse`: learn the teacher's own voice."""

from pathlib import Path

import click

from companion.config import load_settings
from companion.errors import CompanionError
from companion.listening import sound
from companion.listening.enrolled import learn_voice
from companion.listening.enrolment import read_takes
from companion.listening.rehearsal import expectation
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
    help="Folder of your recordings: the cue's takes in cue/, at least five.",
)
@click.option(
    "--talk",
    type=click.Path(path_type=Path, dir_okay=False),
    multiple=True,
    help="A recording of you talking about other things, a minute or more.",
)
@click.option("--forget", "forgets", is_flag=True, help="Delete what was learnt of your voice.")
@click.pass_obj
def rehearse(home: Home, *, takes: Path | None, talk: tuple[Path, ...], forgets: bool) -> None:
    """Learn your own voice from recordings, and say what to expect.

    From then on the engine "auto" listens with what was learnt.
    """
    if forgets:
        found = forget(home.voice)
        click.echo(
            "What was learnt of your voice is deleted." if found else "Nothing was kept of your voice."
        )
        return
    if takes is None:
        raise CompanionError(
            "There are no recordings to learn from.",
            remedy="Record the cue five to ten times with any recorder and give the folder with --takes.",
        )
    settings = load_settings(home.settings)
    vocabulary = settings.vocabulary(settings.plan())
    recorded = read_takes(takes, vocabulary)
    talked = [sound.whole(path) for path in talk]
    learnt = learn_voice(vocabulary, recorded, talked)
    for detector in learnt.detectors:
        if expected := expectation(detector.phrase, recorded[detector.phrase], talked):
            click.echo(expected.sentence)
    click.echo(f"Kept in {keep(home.create().voice, learnt)}. {CAUTION}")
