"""Commands to the lesson that is going on: the same as keys and pages give."""

import time
from typing import Any

import click

from companion.background.control import NoAnswerError, NotRunningError, ask
from companion.commands.child_codes import WITH_CODES, refuse_codes
from companion.errors import CompanionError
from companion.language import _
from companion.lesson.command import Action
from companion.lesson.counting import count_words
from companion.lesson.initials import codes_in
from companion.lesson.mark import NoteKind, table_scope
from companion.paths import Home

OPENS_WITHIN_S = 8.0
"""How long it is waited for a microphone to open, or to be known as one that does not."""
LOOK_AGAIN_S = 0.1
SILENT_DBFS = -119.5
"""Below it a microphone brings nothing but zeros: a muted one, or none at all."""


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
    is_open = _("{class_group} is open, in '{phase}'.", class_group=told["class_group"], phase=told["phase"])
    click.echo(f"{is_open} {_microphone(home)}")
    if told.get("hint"):
        click.echo(told["hint"])


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
    click.echo(
        _(
            "{class_group} is closed, {counts}. Review it with: companion review",
            class_group=told["class_group"],
            counts=_count(told),
        )
    )


def _planned(home: Home, routine: str) -> bool:
    """Return whether a routine that may name a child stands in a plan of the settings."""
    if not codes_in(routine) or not home.settings.exists():
        return False
    from companion.settings.settings import load_settings  # noqa: PLC0415 - few marks need them

    try:
        plans = load_settings(home.settings).plans
    except CompanionError:
        return False
    return any(routine in section.plan().routines for section in plans)


@click.command()
@click.argument("kind", type=click.Choice(["praise", "reminder"]))
@click.option("--table", help="For one table only.")
@click.option("--routine", help="What it is for.")
@WITH_CODES
@click.pass_obj
def mark(home: Home, kind: str, table: str | None, routine: str | None, *, with_codes: bool) -> None:
    """Make a mark for the class."""
    if routine and not with_codes and not _planned(home, routine):
        refuse_codes(routine, "No mark was made.")
    scope = table_scope(table) if table else None
    told = _ask(home, Action(kind), scope=scope, routine=routine)
    click.echo(_count(told))
    if told.get("hint"):
        click.echo(told["hint"])


@click.command()
@click.argument("name", required=False)
@click.pass_obj
def phase(home: Home, name: str | None) -> None:
    """Go on to the next phase, or to the phase NAME."""
    told = _ask(home, Action.PHASE if name else Action.NEXT_PHASE, phase=name)
    if name and name not in told["phases"]:
        raise CompanionError(
            _("The plan has no phase '{name}'.", name=name),
            safe=_("The lesson is still in '{phase}'.", phase=told["phase"]),
            remedy=_("Use one of: {names}.", names=", ".join(told["phases"])),
        )
    if not told["recorded"]:
        raise CompanionError(
            _("The lesson is in '{phase}' already.", phase=told["phase"])
            if name
            else _("The lesson is in '{phase}' already, the last one of the plan.", phase=told["phase"])
        )
    click.echo(_("in '{phase}'", phase=told["phase"]))


@click.command()
@click.pass_obj
def undo(home: Home) -> None:
    """Take back what was done last in the lesson: a mark, a phase, a note that was begun."""
    told = _ask(home, Action.UNDO)
    if not told["undone"]:
        raise CompanionError(
            _("There is nothing to take back."), safe=_("The count stands: {counts}.", counts=_count(told))
        )
    click.echo(_("Taken back: {step}. {counts}", step=told["undone"], counts=_count(told)))


@click.command("jot")
@click.argument("kind", type=click.Choice([str(kind) for kind in NoteKind]))
@click.pass_obj
def jot(home: Home, kind: str) -> None:
    """Begin an individual note, to be completed in the review."""
    told = _ask(home, Action.NOTE, note=kind)
    click.echo(
        _(
            "The individual note {note} is begun. Say whom it is about when the lesson is over: "
            "companion review note {note} --child {example}",
            note=f"n{told['seq']}",
            example='"seat 12"',
        )
    )


@click.command()
@click.pass_obj
def pause(home: Home) -> None:
    """Close the microphone until: companion resume."""
    if not _ask(home, Action.PAUSE)["recorded"]:
        raise CompanionError(_("Listening is paused already."), remedy=_("It goes on with: companion resume"))
    click.echo(_("The microphone is closed until: companion resume"))


@click.command()
@click.pass_obj
def resume(home: Home) -> None:
    """Open the microphone again."""
    if not _ask(home, Action.RESUME)["recorded"]:
        raise CompanionError(_("Listening is not paused."), remedy=_microphone(home))
    click.echo(_microphone(home))


def _microphone(home: Home) -> str:
    """Return how the microphone is, once that is known: it is opened beside the lesson."""
    end_s = time.monotonic() + OPENS_WITHIN_S
    while True:
        microphone = ask(home.control, {"do": "microphone"})
        listening, level_dbfs = microphone["listening"], microphone["level_dbfs"]
        if listening == "on" and level_dbfs is not None and level_dbfs > SILENT_DBFS:
            return _("The microphone is open until: companion close")
        if listening == "not heard":
            return _("The microphone is not heard. {trouble}", trouble=microphone["trouble"])
        if time.monotonic() > end_s:
            return _("No sound has come from the microphone yet. See how it is with: companion status")
        time.sleep(LOOK_AGAIN_S)


def _ask(home: Home, action: Action, **more: str | None) -> dict[str, Any]:
    return ask(home.control, {"do": "command", "action": action, **more})


def _count(told: dict[str, Any]) -> str:
    return count_words(told["praise"], told["reminder"])
