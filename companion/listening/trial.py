"""How a recogniser does on this machine: tried for some seconds in the process that a lesson uses."""

import time
from dataclasses import dataclass

import numpy as np
import psutil

from companion.errors import CompanionError
from companion.language import _
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.spotter import NewSpotter
from companion.listening.spotter_process import ProcessSpotter

OPEN_WITHIN_S = 180.0
"""A process that ends is noticed at once; this is for one that hangs, on a computer however busy."""
MEGABYTE = 1_000_000
NOTHING: Sound = np.zeros(0, np.int16)


@dataclass(frozen=True, slots=True)
class Trial:
    """What a recogniser costs."""

    engine: str
    open_s: float
    """From nothing until it hears."""
    speed: float
    """Seconds of one processor for a second of sound; at 1 it falls behind."""
    resident_mb: float
    """Memory of its process."""


def try_spotter(open_spotter: NewSpotter, sound: Sound) -> Trial:
    """Open a recogniser and give it `sound` as fast as it takes it.

    Raises CompanionError if it can't be opened or does not come up within three minutes.
    """
    began_s = time.monotonic()
    spotter = ProcessSpotter(open_spotter)
    try:
        while not spotter.name:
            spotter.hear(NOTHING)
            if time.monotonic() - began_s > OPEN_WITHIN_S:
                raise CompanionError(_("The recogniser does not come up."), remedy=_("Close other programs."))
            time.sleep(0.02)
        opened_s = time.monotonic()
        process = psutil.Process(spotter.pid)
        before_s = _processor_s(process)
        for begin in range(0, len(sound), SAMPLE_RATE // 10):
            spotter.hear(sound[begin : begin + SAMPLE_RATE // 10])
        spotter.settle()
        resident_mb = process.memory_info().rss / MEGABYTE
        speed = (_processor_s(process) - before_s) * SAMPLE_RATE / len(sound)
        return Trial(spotter.name, opened_s - began_s, speed, resident_mb)
    finally:
        spotter.close()


def _processor_s(process: psutil.Process) -> float:
    times = process.cpu_times()
    return float(times.user + times.system)
