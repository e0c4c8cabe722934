"""What a lesson costs on this machine: a sample session in real time through everything but the hardware.

The sound comes from a device that plays a file; from there on all is as in a lesson: microphone thread,
ear, recogniser in its own process, writer, log on disk, with the pages served beside. A second part gives
the ear hours of sound as fast as it takes them, and looks whether memory grows.
"""

import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from itertools import cycle
from pathlib import Path

import numpy as np
import psutil
from numpy.typing import NDArray

from companion.clock import steady_s
from companion.lesson.command import Action, Command
from companion.lesson.mark import Kind, Source
from companion.lesson.opening import Opening
from companion.lesson.scoring import TOLERANCE_MS, Spoken
from companion.listening.ear import Catch, Hearing
from companion.listening.engines import open_spotter
from companion.listening.microphone.capture import Block, Microphone
from companion.listening.microphone.files import blocks
from companion.listening.microphone.trouble import Trouble
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.spotter import NewSpotter
from companion.listening.spotter_process import ProcessSpotter
from companion.live.lesson_ear import EarParts
from companion.live.live import Live
from companion.live.pages_port import LivePort
from companion.live.state import LiveState
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.paths import Home
from companion.samples.sample import Sample

KEYS = 200
MEGABYTE = 1_000_000
SETTLE_S = 3.0
WARM_UP_S = 120
"""Sound after which memory is first looked at: until then caches and histories fill."""


@dataclass(frozen=True, slots=True)
class Figures:
    """What was measured. Latencies in seconds, processor in shares of one core, memory in megabytes."""

    engine: str
    latencies_s: tuple[float, ...]
    """From the end of each phrase that became an event to the moment when the event was durable."""
    spoken: int
    keys_s: tuple[float, ...]
    speech_core: float
    silence_core: float
    memory_mb: float
    """All processes of a companion together, pages and recogniser too, when a session has just opened."""
    memory_after_mb: float
    """The same after the lesson."""
    hours: float
    hours_before_mb: float
    hours_after_mb: float


class FileDevice:
    """A device that delivers `sound` in real time, and then the quiet of a room."""

    rate = SAMPLE_RATE
    ended = False
    lost_frames = 0

    def __init__(self, sound: Sound) -> None:
        self.began_s = self.last_call_s = steady_s()
        self._sound = sound
        self._frames = 0
        self._noise = np.random.default_rng(0)

    def read(self) -> NDArray[np.int16]:
        """Return what was delivered since the last read."""
        self.last_call_s = steady_s()
        end = round((self.last_call_s - self.began_s) * self.rate)
        part = self._sound[self._frames : end]
        missing = end - max(self._frames, len(self._sound))
        if missing > 0:
            part = np.concatenate([part, self._noise.normal(0, 20, missing).astype(np.int16)])
        self._frames = end
        return part[:, np.newaxis]

    def close(self) -> None:
        """Nothing is to be given back."""


def measure(
    sample: Sample, seconds: float, silence_s: float, hours: float, told: Callable[[str], None]
) -> Figures:
    """Measure with the first `seconds` of `sample`, then `silence_s` of a quiet room, then `hours` of sound.

    told: called with what is being done.
    """
    sound = np.concatenate(list(blocks(sample.sound)))[: round(seconds * SAMPLE_RATE)]
    vocabulary = sample.settings.vocabulary(sample.settings.plan())
    new_spotter = partial(open_spotter, vocabulary, sample.settings.listening.engine)
    with tempfile.TemporaryDirectory() as folder:
        bench = _Bench(Path(folder), sample, sound, new_spotter)
        told(f"{len(sound) / SAMPLE_RATE:.0f} s of {sample.folder.name} in real time")
        speech_core, before_mb, after_mb = bench.lesson()
        told(f"{silence_s:.0f} s of a quiet room in real time")
        silence_core = bench.core_over(silence_s)
        told(f"{KEYS} keys")
        keys_s = bench.keys_s()
        bench.end()
    told(f"{hours:.2f} hours of sound as fast as it is taken")
    hours_before_mb, hours_after_mb = memory_over(new_spotter, sound, hours)
    return Figures(
        engine=bench.engine,
        latencies_s=tuple(bench.latencies_s()),
        spoken=len(bench.said),
        keys_s=tuple(keys_s),
        speech_core=speech_core,
        silence_core=silence_core,
        memory_mb=before_mb,
        memory_after_mb=after_mb,
        hours=hours,
        hours_before_mb=hours_before_mb,
        hours_after_mb=hours_after_mb,
    )


def memory_over(new_spotter: NewSpotter, sound: Sound, hours: float) -> tuple[float, float]:
    """Return the memory (MB) of ear and recogniser after the first minutes and after `hours` of `sound`.

    It is the resident set: too much, but the same too much both times, whoever else comes to share pages.
    """
    spotter = ProcessSpotter(new_spotter)
    caught: list[Catch] = []
    hearing = Hearing(spotter, caught.append)
    block_s = 0.1
    length = round(block_s * SAMPLE_RATE)
    warm_up_s = min(WARM_UP_S, hours * 1800)
    begins = cycle(range(0, len(sound) - length, length))
    early_mb = 0.0
    for number in range(round(hours * 3600 / block_s)):
        begin = next(begins)
        hearing.hear(Block(sound[begin : begin + length], number * block_s, after_gap=number == 0))
        if number % 100 == 0:
            spotter.settle()
        if number == round(warm_up_s / block_s):
            early_mb = _resident_mb()
        caught.clear()
    late_mb = _resident_mb()
    spotter.close()
    return early_mb, late_mb


class _Bench:
    """A companion without hardware, and what is noted of it."""

    def __init__(self, folder: Path, sample: Sample, sound: Sound, new_spotter: NewSpotter) -> None:
        self.engine = ""
        self._sample = sample
        self._sound = sound
        self._spotters: list[ProcessSpotter] = []
        self._devices: list[FileDevice] = []
        self._seen: list[tuple[float, LiveState]] = []

        def open_one(*_: object) -> ProcessSpotter:
            self._spotters.append(ProcessSpotter(new_spotter))
            return self._spotters[-1]

        def open_device(_: str | None) -> FileDevice:
            # The recogniser is up before the lesson's first word, as it is when a class comes in.
            while not (self._spotters and self._spotters[-1].name):
                time.sleep(0.05)
                for spotter in self._spotters:
                    spotter.hear(sound[:0])
            self._devices.append(FileDevice(sound))
            return self._devices[-1]

        def open_microphone(name: str | None, on: Callable[[Trouble | None, float], None]) -> Microphone:
            return Microphone(name, on, open_device)

        self._live = Live(folder / "sessions.db", sample.settings, ear=EarParts(open_one, open_microphone))
        self._live.subscribe(lambda state: self._seen.append((steady_s(), state)))
        self._live.start()
        home = Home(folder).create()
        port = LivePort(self._live, lambda: None, LogPort(home.log, self._live.clock.wall))
        self._pages = PageServer(home, port, self._live.clock.wall).start()

    def lesson(self) -> tuple[float, float, float]:
        """Let the sound be heard; return the processor's share, and memory before and after in MB."""
        self._live.open(Opening("4-Hazel"), Source.KEY).result()
        while not self._devices:
            time.sleep(0.05)
        self.engine = self._spotters[-1].name
        before_mb = _memory_mb()
        core = self.core_over(len(self._sound) / SAMPLE_RATE + SETTLE_S)
        return core, before_mb, _memory_mb()

    def core_over(self, seconds: float) -> float:
        """Return the share of one core that companion and recogniser take during `seconds`."""
        began_s, before_s = time.monotonic(), _processor_s()
        time.sleep(seconds)
        return (_processor_s() - before_s) / (time.monotonic() - began_s)

    def keys_s(self) -> list[float]:
        """Return how long it takes from a key to its durable mark, for each of many keys."""
        took_s = []
        for _ in range(KEYS):
            began_s = time.perf_counter()
            self._live.ask(Command(Action.PRAISE), Source.KEY).result()
            took_s.append(time.perf_counter() - began_s)
        return took_s

    def latencies_s(self) -> list[float]:
        """Return for each spoken mark that was made how long after its phrase's end it was durable."""
        sound_s = self._devices[0].began_s
        first_seen: dict[str, tuple[float, float]] = {}
        for seen_s, state in self._seen:
            for mark in state.session.marks if state.session else ():
                if mark.source is Source.VOICE:
                    first_seen.setdefault(mark.id, (seen_s, state.zero_s + mark.at_ms / 1000 - sound_s))
        latencies_s = []
        for said in self.said:
            own = [
                seen_s
                for seen_s, at_s in first_seen.values()
                if abs(at_s * 1000 - said.begin_ms) < TOLERANCE_MS
            ]
            latencies_s += [min(own) - sound_s - said.end_ms / 1000] if own else []
        return latencies_s

    @property
    def said(self) -> list[Spoken]:
        """The marks that are spoken in the sound."""
        end_ms = len(self._sound) * 1000 / SAMPLE_RATE
        return [said for said in self._sample.truth if said.kind in set(Kind) and said.end_ms < end_ms]

    def end(self) -> None:
        """Close the lesson."""
        self._live.close(Source.KEY).result()
        self._pages.stop()
        self._live.stop()


def _processes() -> list[psutil.Process]:
    own = psutil.Process()
    return [own, *own.children(recursive=True)]


def _processor_s() -> float:
    """Return the processor time that this process and its children have taken, in seconds."""
    times = [process.cpu_times() for process in _processes()]
    return float(sum(one.user + one.system for one in times))


def _memory_mb() -> float:
    """Return the memory of this process and its children, in MB.

    What several processes share is divided among them (Linux' proportional set size), since a resident set
    would count it once for each. Where a system doesn't tell that, only what each has for itself counts.
    """
    used = [process.memory_full_info() for process in _processes()]
    return float(sum(getattr(one, "pss", one.uss) for one in used) / MEGABYTE)


def _resident_mb() -> float:
    return float(sum(process.memory_info().rss for process in _processes()) / MEGABYTE)
