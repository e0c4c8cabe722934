"""`companion replay`: a recording into the session log."""

import json
from datetime import datetime
from pathlib import Path

import click
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

from companion.commands.session_json import session_json
from companion.commands.shown import count_line, mark_line, near_miss_line
from companion.errors import CompanionError
from companion.language import _, later
from companion.lesson.counting import minute
from companion.lesson.event import MarkMade, NearMissHeard, PhaseBegan
from companion.lesson.session import Session
from companion.listening.engines import Voice, open_spotter
from companion.listening.microphone.files import duration_s
from companion.log.store import open_log
from companion.paths import Home
from companion.recording.replay import replay as play
from companion.recording.writer import Recorded
from companion.samples.sample import load_sample
from companion.settings.settings import Settings, load_settings


@click.command()
@click.argument("what", type=click.Path(path_type=Path), metavar="FOLDER|AUDIO")
@click.option("--plan", type=click.Path(path_type=Path), help="The plan of a single recording (TOML).")
@click.option("--class-group", help="The class group, where the plan does not name it.")
@click.option("--engine", help="What listens; by default what the plan says.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.pass_obj
def replay(
    home: Home, *, what: Path, plan: Path | None, class_group: str | None, engine: str | None, as_json: bool
) -> None:
    """Play a sample session or any recording into the session log, faster than real time."""
    if what.is_dir():
        sample = load_sample(what)
        sound, settings = sample.sound, load_settings(plan) if plan else sample.settings
    elif plan is None:
        raise CompanionError(
            _("A single recording ({what}) needs a plan.", what=what),
            remedy=_("Add --plan PLAN.toml, or give a sample's folder."),
        )
    else:
        sound, settings = what, load_settings(plan)
    console = Console(stderr=as_json, highlight=False, markup=False)
    session = play_into_log(
        home.log,
        sound,
        settings,
        console,
        engine=engine,
        class_group=class_group,
        quiet=as_json,
        voice=Voice(features=home.voice, models=home.models),
    )
    if as_json:
        click.echo(json.dumps(session_json(session), ensure_ascii=False))
    else:
        console.print(count_line(session), markup=False)
        console.print(
            _("Session {session} is in {log}", session=session.id, log=home.log), markup=False, soft_wrap=True
        )


def play_into_log(
    log_path: Path,
    sound: Path,
    settings: Settings,
    console: Console,
    *,
    engine: str | None = None,
    class_group: str | None = None,
    quiet: bool = False,
    voice: Voice | None = None,
) -> Session:
    """Play `sound` into the log with a progress bar and each mark as it is made.

    Raises CompanionError for settings, sound or a log that can't be used.
    """
    length_ms = round(duration_s(sound) * 1000)
    named = settings.session.class_group if settings.session else None
    opened_at = settings.session.opened_at if settings.session else None
    plan = settings.plan(settings.session.plan if settings.session else None)
    spotter = open_spotter(settings.vocabulary(plan), engine=engine or settings.listening.engine, voice=voice)
    progress = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.fields[at]}"),
        TimeRemainingColumn(),
        console=console,
        disable=quiet,
        transient=True,
    )
    with open_log(log_path) as log, progress:
        task = progress.add_task(_("listening"), total=length_ms, at=minute(0))
        return play(
            sound,
            settings,
            spotter,
            log,
            class_group=class_group or named or _("unnamed class group"),
            opened_at=opened_at or datetime.now().astimezone(),
            on_heard=lambda ms: progress.update(task, completed=ms, at=minute(ms)),
            on_recorded=lambda recorded: None if quiet else _show(progress.console, recorded),
            warn=lambda sentence: click.echo(sentence, err=True),
        )


def _show(console: Console, recorded: Recorded) -> None:
    session = recorded.session
    for body in recorded.bodies:
        match body:
            case MarkMade():
                newest = max(session.marks, key=lambda mark: int(mark.id[1:]))
                console.print(mark_line(newest), markup=False)
            case NearMissHeard():
                console.print(near_miss_line(session.near_misses[-1]), markup=False, style="dim")
            case PhaseBegan(phase=phase, at_ms=at_ms):
                console.print(f"{minute(at_ms)}  → {phase}", markup=False)
            case _:
                at_ms = getattr(body, "at_ms", session.last_ms)
                console.print(f"{minute(at_ms)}  {_(_SAID.get(type(body).__name__, ''))}", markup=False)


_SAID = {
    "LastTakenBack": later("taken back"),
    "NoteOpened": later("an individual note was opened"),
    "ListeningPaused": later("listening paused"),
    "MarkDoubled": later("the same mark again"),
}
