"""`companion devices`: the microphones that are there, and a level meter for one of them."""

import contextlib
import time

import click
from rich.console import Console
from rich.live import Live as Screen

from companion.commands.level_meter import LevelMeter
from companion.errors import CompanionError
from companion.language import _, many
from companion.listening.microphone.capture import Microphone
from companion.listening.microphone.devices import Device, choose, probe
from companion.paths import Home
from companion.settings.settings import load_settings

FRAME_S = 0.1


@click.command()
@click.option("--microphone", help="Part of a name; by default the one of the settings, or the system's own.")
@click.option("--seconds", type=click.FloatRange(0, 3600), help="End the meter by itself; 0: only list.")
@click.pass_obj
def devices(home: Home, microphone: str | None, seconds: float | None) -> None:
    """List the microphones, then show how loud the chosen one is, until Ctrl+C.

    Nothing is recorded.
    """
    named = microphone or (
        load_settings(home.settings).listening.microphone if home.settings.exists() else ""
    )
    found = probe()
    chosen = choose(found, named or None)
    for device in found:
        click.echo(_line(device, chosen=device is chosen))
    if chosen is None:
        raise CompanionError(
            _("There is no microphone called '{named}'.", named=named)
            if named
            else _("There is no microphone."),
            remedy=_("Plug one in, or name one of the list with --microphone."),
        )
    if seconds != 0:
        _meter(named or None, seconds)


def _line(device: Device, *, chosen: bool) -> str:
    about = {
        "system": device.system,
        "rate": device.rate,
        "channels": many("{count} channel", "{count} channels", device.channels),
    }
    said = (
        _("{system}, {rate} Hz, {channels}, the system's own choice", **about)
        if device.is_default
        else _("{system}, {rate} Hz, {channels}", **about)
    )
    return f"{'→' if chosen else ' '} {device.name} ({said})"


def _meter(name: str | None, seconds: float | None) -> None:
    console = Console(highlight=False, markup=False)
    microphone = Microphone(name, lambda *_: None)
    end_s = None if seconds is None else time.monotonic() + seconds
    meter = LevelMeter(microphone)
    try:
        with Screen(console=console, auto_refresh=False) as screen, contextlib.suppress(KeyboardInterrupt):
            while end_s is None or time.monotonic() < end_s:
                while not microphone.blocks.empty():
                    microphone.blocks.get_nowait()
                screen.update(meter.line(), refresh=True)
                time.sleep(FRAME_S)
    finally:
        microphone.close()
