"""Commands to the lesson that is going on: the same as keys and pages give."""

import time
from typing import Any

import click

from companion.background.control import NoAnswerError, NotRunningError, ask
from companion.commands.child_codes import WITH_CODES, refuse_codes
from companion.errors import CompanionError
from companion.lesson.command import Action
from companion.lesson.counting import count_words
from companion.lesson.mark import NoteKind, table_scope
from companion.paths import Home

OPENS_WITHIN_S = 8.0
"""How long it is waited for a microphone to open, or to be known as one that does not."""
LOOK_AGAIN_S = 0.1
SILENT = "open, level -120 dBFS"
"""What the status says of a microphone that brings nothing but zeros: a muted one, or none at all."""


@click.command("open")
@click.argument("class_group", required=False)
@click.option("--plan", help="Name of the plan; by default the first one of the settings.")
@click.option("--room", default="", help="Room, where it is not the usual one.")
@click.pass_obj
def open_(home: Home, class_group: str | None, plan: str | None, room: str) -> None:
    """Open a session of CLASS_GROUP, or of the class that the timetable has now or next today."""
    request: dict[str, Any] = {"do": "open"}
    if class_group:
        request |= {"class_group": class_group, "plan": plan, "room": room}
    told = ask(home.control, request)
    if told["caution"]:
        click.echo(told["caution"])
    click.echo(f"{told['class_group']} is open, in '{told['phase']}'. {_microphone(home)}")


@click.command()
@click.pass_obj
def close(home: Home) -> None:
    """Close the session that is open; its review can wait."""
    try:
        told = ask(home.control, {"do": "close"})
    except NoAnswerError:
        raise
    except NotRunningError:
        from companion.commands.left_open import close_left_open  # noqa: PLC0415 - the log is slow to import

        told = close_left_open(home)
    click.echo(f"{told['class_group']} is closed, {_count(told)}. Review it with: companion review")


@click.command()
@click.argument("kind", type=click.Choice(["praise", "reminder"]))
@click.option("--table", help="For one table only.")
@click.option("--routine", help="What it is for.")
@WITH_CODES
@click.pass_obj
def mark(home: Home, kind: str, table: str | None, routine: str | None, *, with_codes: bool) -> None:
    """Make a mark for the class."""
    if not with_codes:
        refuse_codes(routine or "", "No mark was made.")
    scope = table_scope(table) if table else None
    click.echo(_count(_ask(home, Action(kind), scope=scope, routine=routine)))


@click.command()
@click.argument("name", required=False)
@click.pass_obj
def phase(home: Home, name: str | None) -> None:
    """Go on to the next phase, or to the phase NAME."""
    told = _ask(home, Action.PHASE if name else Action.NEXT_PHASE, phase=name)
    if name and name not in told["phases"]:
        raise CompanionError(
            f"The plan has no phase '{name}'.",
            safe=f"The lesson is still in '{told['phase']}'.",
            remedy=f"Use one of: {', '.join(told['phases'])}.",
        )
    if not told["recorded"]:
        why = "already" if name else "already, the last one of the plan"
        raise CompanionError(f"The lesson is in '{told['phase']}' {why}.")
    click.echo(f"in '{told['phase']}'")


@click.command()
@click.pass_obj
def undo(home: Home) -> None:
    """Take back what was done last in the lesson: a mark, a phase, a note that was begun."""
    told = _ask(home, Action.UNDO)
    if not told["undone"]:
        raise CompanionError("There is nothing to take back.", safe=f"The count stands: {_count(told)}.")
    click.echo(f"Taken back: {told['undone']}. {_count(told)}")


@click.command("jot")
@click.argument("kind", type=click.Choice([str(kind) for kind in NoteKind]))
@click.pass_obj
def jot(home: Home, kind: str) -> None:
    """Begin an individual note, to be completed in the review."""
    told = _ask(home, Action.NOTE, note=kind)
    click.echo(
        f"The individual note n{told['seq']} is begun. Say whom it is about when the lesson is over: "
        f'companion review note n{told["seq"]} --child "seat 12"'
    )


@click.command()
@click.pass_obj
def pause(home: Home) -> None:
    """Close the microphone until: companion resume."""
    if not _ask(home, Action.PAUSE)["recorded"]:
        raise CompanionError("Listening is paused already.", remedy="It goes on with: companion resume")
    click.echo("The microphone is closed until: companion resume")


@click.command()
@click.pass_obj
def resume(home: Home) -> None:
    """Open the microphone again."""
    if not _ask(home, Action.RESUME)["recorded"]:
        raise CompanionError(f"Listening is not paused. {_microphone(home)}")
    click.echo(_microphone(home))


def _microphone(home: Home) -> str:
    """Return how the microphone is, once that is known: it is opened beside the lesson."""
    end_s = time.monotonic() + OPENS_WITHIN_S
    while True:
        status = ask(home.control, {"do": "status"})
        microphone = status["microphone"]
        if microphone.startswith("open,") and not microphone.startswith(SILENT):
            return "The microphone is open until: companion close"
        if microphone == "not heard":
            return f"The microphone is not heard: {status['trouble']}"
        if time.monotonic() > end_s:
            return "No sound has come from the microphone yet. See how it is with: companion status"
        time.sleep(LOOK_AGAIN_S)


def _ask(home: Home, action: Action, **more: str | None) -> dict[str, Any]:
    return ask(home.control, {"do": "command", "action": action, **more})


def _count(told: dict[str, Any]) -> str:
    return count_words(told["praise"], told["reminder"])
