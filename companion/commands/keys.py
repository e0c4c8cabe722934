"""`companion keys`: what keys are called, what they are bound to, and how a button gets its meaning."""

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from queue import Empty, SimpleQueue

import click
import tomlkit

from companion.clock import steady_s
from companion.errors import CompanionError
from companion.language import _, later
from companion.lesson.command import Action
from companion.lesson.mark import WHOLE_CLASS, NoteKind, scope_words
from companion.paths import Home
from companion.pressing.bindings import Bindings, parse_press, written
from companion.pressing.gesture import MODIFIERS, Button, Gesture, KeyEvent
from companion.pressing.hotkeys import Hotkeys, Obstacle
from companion.pressing.wanted_key import ALTERNATING, Learner
from companion.settings.file import append_table, edit, is_valid_without
from companion.settings.settings import Settings, load_settings

PATIENCE_S = 30.0
"""How long a button is waited for."""

PAGES_TURN = later(
    "Note: the slides get each press too. A double turns two slides, and while the button is held the "
    "computer may turn many; where that disturbs, choose a button that the slides do not use."
)


@click.command()
@click.option("--for", "action", type=click.Choice([a.value for a in Action]), help="Bind a button to this.")
@click.option(
    "--press", help="The button and gesture, such as 'f9' or 'page_down hold'; else it is asked for."
)
@click.option("--phase", help="Which phase, with --for phase.")
@click.option(
    "--note", type=click.Choice([kind.value for kind in NoteKind]), help="Which note, with --for note."
)
@click.option("--table", help="Which table, with --for praise or reminder.")
@click.option("--routine", help="Which routine, with --for praise or reminder.")
@click.option("--remove", metavar="PRESS", help="Take a binding away.")
@click.option("--list", "only_list", is_flag=True, help="Only list the bindings.")
@click.pass_obj
def keys(
    home: Home,
    *,
    action: str | None,
    press: str | None,
    phase: str | None,
    note: str | None,
    table: str | None,
    routine: str | None,
    remove: str | None,
    only_list: bool,
) -> None:
    """Show what a pressed key is called, and bind buttons of keyboard and clicker."""
    if remove is not None:
        settings = edit(home.settings, lambda document: _remove(document, remove), mending="keys")
        click.echo(_("'{press}' is bound no longer.", press=remove))
        _list(settings.bindings)
        return
    settings = _usable(home)
    if action is not None:
        text = press or _ask_for_button(settings, action)
        given = {
            "press": text,
            "does": action,
            "phase": phase,
            "note": note,
            "table": table,
            "routine": routine,
        }
        values = {name: value for name, value in given.items() if value}
        settings = edit(home.settings, lambda document: append_table(document, "keys", values))
        bound = _(
            "Bound: {press} for {action}. It holds in a few seconds, or after the open lesson.",
            press=text,
            action=_(action),
        )
        click.echo(bound)
        if not frozenset(ALTERNATING | {"page_up", "page_down"}).isdisjoint(parse_press(text)[0].keys):
            click.echo(_(PAGES_TURN))
    elif any(given is not None for given in (press, phase, note, table, routine)):
        raise click.UsageError(_("That belongs to a binding; say with --for what the button is for."))
    _list(settings.bindings)
    if action is None and not only_list:
        _show_names(settings)


def _usable(home: Home) -> Settings:
    """Return the settings. Raises CompanionError, which for a binding in the way says how it goes."""
    try:
        return load_settings(home.settings)
    except CompanionError as error:
        if not is_valid_without(home.settings, "keys"):
            raise
        remedy = _("Take a binding out with: companion keys --remove PRESS")
        raise CompanionError(error.what, safe=error.safe, remedy=remedy) from error


def _list(bindings: Bindings) -> None:
    if not bindings.commands:
        click.echo(_("No key is bound. Bind one with: companion keys --for praise"))
    for (button, touch), command in bindings.commands.items():
        scope = "" if command.scope == WHOLE_CLASS else scope_words(command.scope)
        about = command.phase or (_(command.note) if command.note else scope)
        click.echo(f"  {written(button, touch):<24} {_(command.action)}{f' ({about})' if about else ''}")


def _remove(document: tomlkit.TOMLDocument, text: str) -> None:
    """Take the binding of the gesture `text` out of `document`."""
    tables = document.get("keys", [])
    for place, table in enumerate(tables):
        if _same_press(str(table.get("press", "")), text):
            del tables[place]
            if not tables:
                del document["keys"]
            return
    raise CompanionError(
        _("'{press}' is not bound.", press=text), remedy=_("See what is with: companion keys --list")
    )


def _same_press(written_so: str, text: str) -> bool:
    """Whether both are one gesture; one that can't be bound is known by how it is written."""
    if " ".join(written_so.casefold().split()) == " ".join(text.casefold().split()):
        return True
    try:
        return parse_press(written_so) == parse_press(text)
    except CompanionError:
        return False


@contextmanager
def _pressed(settings: Settings) -> Iterator[SimpleQueue[KeyEvent]]:
    """Listen to all keys. Raises CompanionError where they can't be heard."""
    events: SimpleQueue[KeyEvent] = SimpleQueue()
    timings = settings.gestures.timings()
    hotkeys = Hotkeys({}, lambda _: None, timings=timings, observe=events.put)
    hotkeys.start()
    try:
        if hotkeys.obstacle is not None:
            _tell(hotkeys.obstacle, settings)
        with _silent_terminal():
            yield events
    finally:
        hotkeys.close()


def _tell(obstacle: Obstacle, settings: Settings) -> None:
    """Raise CompanionError for an obstacle that leaves no key to hear, and only warn of a lesser one."""
    if obstacle.partial:
        click.echo(f"{obstacle.reason} {obstacle.remedy}", err=True)
        return
    safe = _("The bindings stay as they are.") if settings.keys else ""
    raise CompanionError(obstacle.reason, safe=safe, remedy=obstacle.remedy)


def _show_names(settings: Settings) -> None:
    """Print the name of every key that is pressed, until interrupted."""
    with _pressed(settings) as events:
        click.echo(_("Press a key or a clicker's button to see what it is called. Ctrl+C ends this."))
        held: set[str] = set()
        with suppress(KeyboardInterrupt):
            while True:
                try:
                    event = events.get(timeout=0.5)  # without a limit Windows does not hear Ctrl+C
                except Empty:
                    continue
                if event.pressed and event.key not in held | set(MODIFIERS):
                    click.echo(f"  {Button(frozenset({event.key}), frozenset(held & set(MODIFIERS)))}")
                (held.add if event.pressed else held.discard)(event.key)


def _ask_for_button(settings: Settings, action: str) -> str:
    """Let the teacher press the button that is wanted for `action`, and return it as text."""
    with _pressed(settings) as events:
        while True:
            click.echo(
                _(
                    "Press the button that you want for {action}, as you will in the lesson: once, twice "
                    "quickly, or hold it.",
                    action=_(action),
                )
            )
            made = _learn(events, settings)
            keys = made.button.keys
            if not made.button.modifiers and keys < ALTERNATING:
                click.echo(_("And the same button once more."))
                keys |= _learn(events, settings).button.keys & ALTERNATING
            text = written(Button(keys, made.button.modifiers), made.touch)
            click.echo(_("That was: {press}", press=text))
            refusal = _refusal(settings, text)
            if refusal is None:
                return text
            click.echo(refusal)


def _refusal(settings: Settings, text: str) -> str | None:
    """Return why `text` can't be bound as it is, or None."""
    try:
        gesture = parse_press(text)
    except CompanionError as error:
        return str(error)
    taken = settings.bindings.commands.get(gesture)
    return (
        None if taken is None else _("That is already for {action}. Use another one.", action=_(taken.action))
    )


def _learn(events: SimpleQueue[KeyEvent], settings: Settings) -> Gesture:
    """Return the next gesture on any button. Raises CompanionError when none comes."""
    learner = Learner(settings.gestures.timings())
    end_s = time.monotonic() + PATIENCE_S
    while time.monotonic() < end_s:
        try:
            made = learner.take(events.get(timeout=0.02))
        except Empty:
            made = learner.settle(round(steady_s() * 1000))
        if made is not None:
            return made
    raise CompanionError(
        _("No key was pressed for {seconds} seconds.", seconds=round(PATIENCE_S)),
        safe=_("Nothing was changed."),
        remedy=_("Look whether the clicker is switched on and its receiver plugged in, and try again."),
    )


@contextmanager
def _silent_terminal() -> Iterator[None]:
    """Keep the pressed keys out of the terminal, which gets them too."""
    if sys.platform == "win32" or not sys.stdin.isatty():
        yield
        return
    import termios  # noqa: PLC0415 - Windows has none

    terminal = sys.stdin.fileno()
    before = termios.tcgetattr(terminal)
    silent = [*before[:3], before[3] & ~termios.ECHO & ~termios.ICANON, *before[4:]]
    termios.tcsetattr(terminal, termios.TCSADRAIN, silent)
    try:
        yield
    finally:
        termios.tcsetattr(terminal, termios.TCSAFLUSH, before)
