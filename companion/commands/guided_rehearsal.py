"""The rehearsal at the microphone: what to say, how loud it is, and what is wrong with a take, at once."""

import os
import queue
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec

from rich.console import Console
from rich.live import Live as Screen
from rich.text import Text

from companion.commands.level_meter import LevelMeter
from companion.errors import CompanionError
from companion.language import _
from companion.listening.microphone.capture import Microphone
from companion.listening.microphone.devices import no_library
from companion.listening.microphone.trouble import Trouble
from companion.listening.rehearsal.guide import Guide, Part, RehearsalStep
from companion.listening.rehearsal.progress import RehearsalProgress

FRAME_S = 0.1
METER_WIDTH = 30


def rehearse_aloud(console: Console, name: str | None, steps: tuple[RehearsalStep, ...]) -> Guide:
    """Lead through `steps` at the microphone called `name` and return what was collected.

    A microphone that is not there or does not answer is told and waited for.
    Raises CompanionError when the rehearsal is stopped by Ctrl+C, or nothing that reads a microphone is
    installed.
    """
    if find_spec("sounddevice") is None:
        raise no_library()
    rehearsing = RehearsalProgress(Guide(steps))
    try:
        with _microphone(name) as microphone:
            _converse(console, microphone, rehearsing, _typed_lines())
    except KeyboardInterrupt:
        raise stopped() from None
    return rehearsing.guide


def stopped() -> CompanionError:
    """Return what is said after Ctrl+C."""
    return CompanionError(
        _("The rehearsal was stopped."),
        safe=_("Nothing was kept of it; what was learnt before is as it was."),
        remedy=_("Begin again with: companion rehearse"),
    )


def _converse(
    console: Console, microphone: Microphone, rehearsing: RehearsalProgress, lines: "queue.SimpleQueue[str]"
) -> None:
    meter, prompt, trouble, heard = LevelMeter(microphone), "", None, False
    with Screen(console=console, auto_refresh=False, transient=True) as screen:
        while rehearsing.guide.step is not None:
            # What is said before the microphone hears would be lost.
            if heard and rehearsing.guide.prompt != prompt:
                prompt = rehearsing.guide.prompt
                console.print(f"\n{prompt}", markup=False)
            while not lines.empty():
                _say(console, rehearsing.type(lines.get()))
            trouble = _tell_trouble(console, trouble, microphone.trouble)
            screen.update(_line(meter, rehearsing.guide), refresh=True)
            try:
                block = microphone.blocks.get(timeout=FRAME_S)
            except queue.Empty:
                continue
            heard = True
            _say(console, rehearsing.hear(block))


def _line(meter: LevelMeter, guide: Guide) -> Text:
    """Return the meter, with how far talk or room have come."""
    step = guide.step
    line = meter.line(METER_WIDTH)
    if step is not None and step.part is not Part.TAKES:
        done = _("{done} of {all} s", done=guide.done, all=round(step.seconds))
        line.append(f" · {done}")
    return line


def _say(console: Console, remark: str) -> None:
    if remark:
        console.print(f"  {remark}", markup=False)


def _tell_trouble(console: Console, before: Trouble | None, now: Trouble | None) -> Trouble | None:
    """Say a trouble once: where there is no moving line, the meter can't."""
    if now is not None and now is not before:
        _say(console, f"{now.words[0].upper()}{now.words[1:]}. {now.remedy}")
    return now


@contextmanager
def _microphone(name: str | None) -> Iterator[Microphone]:
    microphone = Microphone(name, lambda *_: None)
    try:
        yield microphone
    finally:
        microphone.close()


def _typed_lines() -> "queue.SimpleQueue[str]":
    """Return where typed lines arrive, from a thread that nobody waits for at the end."""
    lines: queue.SimpleQueue[str] = queue.SimpleQueue()

    def read() -> None:
        # Not through sys.stdin, whose lock would be held at the end of the program.
        rest = b""
        while data := os.read(sys.stdin.fileno(), 1024):
            *whole, rest = (rest + data).split(b"\n")
            for line in whole:
                lines.put(line.decode(errors="replace"))

    threading.Thread(target=read, name="typed lines", daemon=True).start()
    return lines
