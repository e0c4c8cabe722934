"""`companion devices`: the microphones that are there, and a level meter for one of them."""

import contextlib
import time

import click
from rich.console import Console
from rich.live import Live as Screen
from rich.text import Text

from companion.config import load_settings
from companion.errors import CompanionError
from companion.listening.capture import Microphone
from companion.listening.devices import Device, choose, probe
from companion.paths import Home

QUIETEST_DBFS, LOUDEST_DBFS = -70, 0
GOOD_DBFS = (-45, -12)
"""Where speech at the microphone should be: below, it drowns; above, it clips."""
WIDTH = 50
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
            f"There is no microphone called '{named}'." if named else "There is no microphone.",
            remedy="Plug one in, or name one of the list with --microphone.",
        )
    if seconds != 0:
        _meter(named or None, seconds)


def _line(device: Device, *, chosen: bool) -> str:
    default = ", the system's own choice" if device.is_default else ""
    sign = "→" if chosen else " "
    return f"{sign} {device.name} ({device.system}, {device.rate} Hz, {device.channels} channels{default})"


def _meter(name: str | None, seconds: float | None) -> None:
    console = Console(highlight=False)
    microphone = Microphone(name, lambda *_: None)
    end_s = None if seconds is None else time.monotonic() + seconds
    loudest_dbfs = QUIETEST_DBFS * 1.0
    try:
        with Screen(console=console, auto_refresh=False) as screen, contextlib.suppress(KeyboardInterrupt):
            while end_s is None or time.monotonic() < end_s:
                while not microphone.blocks.empty():
                    microphone.blocks.get_nowait()
                loudest_dbfs = max(loudest_dbfs, microphone.level_dbfs)
                screen.update(_bar(microphone, loudest_dbfs), refresh=True)
                time.sleep(FRAME_S)
    finally:
        microphone.close()


def _bar(microphone: Microphone, loudest_dbfs: float) -> Text:
    if microphone.trouble:
        trouble = microphone.trouble
        return Text(f"  {trouble.words[0].upper()}{trouble.words[1:]}. {trouble.remedy}", style="bold")
    level = min(LOUDEST_DBFS, max(QUIETEST_DBFS, microphone.level_dbfs))
    filled = round((level - QUIETEST_DBFS) / (LOUDEST_DBFS - QUIETEST_DBFS) * WIDTH)
    low, high = GOOD_DBFS
    word = "too low for speech" if loudest_dbfs < low else "too high" if loudest_dbfs > high else "good"
    return Text(
        f"  {'█' * filled}{'·' * (WIDTH - filled)} {level:4.0f} dBFS, loudest {loudest_dbfs:.0f}: {word}"
    )
