"""The companion of the week: its real parts on the week's clock, with no hardware and no process of its own.

Left out: `run._parts` itself, the sound device, the desktop's key events, the tones' loudspeaker, and the
thread that ticks in real time; a tick comes when the rig says so.
"""

import sqlite3
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import ExitStack, closing, contextmanager
from datetime import datetime
from typing import Any
from unittest import mock

import numpy as np

from companion.background.run import _choose_engine, _open_spotter
from companion.background.upkeep import Upkeep
from companion.lesson.mark import Source
from companion.lesson.session import Session
from companion.listening import ear
from companion.listening.candidate import Candidate
from companion.listening.microphone.trouble import Trouble
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.spotter_process import ProcessSpotter
from companion.live import live
from companion.live.lesson_ear import EarParts
from companion.live.live import Live
from companion.live.pages_port import LivePort
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.paths import Home
from companion.pressing.gesture import GestureReader, KeyEvent
from companion.settings.settings import Settings
from companion.settings.watch import SettingsWatch
from tests.waiting import until
from tests.week.clock import WeekClock
from tests.week.microphone import WeekMicrophone

TICK_S = 15.0
UPKEEP_S = 600.0
OPENS_WITHIN_S = 6.0
"""How late a lesson opens by itself at most, since the timetable is looked at every five seconds."""
BLOCK = SAMPLE_RATE // 10


class NoTicks:
    """In place of the thread that ticks in real time."""

    def __init__(self, *_: object) -> None: ...

    def start(self) -> None:
        """Do nothing."""

    def stop(self) -> None:
        """Do nothing."""


class NotedSpotter:
    """The real recogniser in its process, and what it has found."""

    def __init__(self, spotter: ProcessSpotter, found: list[Candidate]) -> None:
        self.name = ""
        self.inner = spotter
        self._found = found
        self.is_finished = False

    @property
    def is_done(self) -> bool:
        """Whether everything that it was given is decided."""
        return self.inner._taken >= self.inner._given

    def hear(self, block: Sound) -> list[Candidate]:
        """Pass `block` on."""
        return self._noted(self.inner.hear(block))

    def finish(self) -> list[Candidate]:
        """Return what is still undecided."""
        try:
            return self._noted(self.inner.finish())
        finally:
            self.is_finished = True

    def _noted(self, candidates: list[Candidate]) -> list[Candidate]:
        self.name = self.inner.name
        self._found += candidates
        return candidates


class Room:
    """A companion that runs, and the hands that the rig has on it."""

    def __init__(self, home: Home, clock: WeekClock) -> None:
        """Make ready; `start` begins."""
        self.home = home
        self.clock = clock
        self.candidates: list[Candidate] = []
        """All that the recogniser has found."""
        self.microphone: WeekMicrophone | None = None
        self.spotter: NotedSpotter | None = None
        self._looked_s = clock.steady_s()
        self.live: Live
        self.pages: PageServer
        self._upkeep: Upkeep
        self._parts = ExitStack()

    def start(self) -> None:
        """Begin, as after a log-in."""
        open_one = _open_spotter(self.home)

        def open_spotter(settings: Settings, session: Session) -> NotedSpotter:
            spotter = open_one(settings, session)
            assert isinstance(spotter, ProcessSpotter)
            self.spotter = NotedSpotter(spotter, self.candidates)
            return self.spotter

        def open_microphone(name: str | None, told: Callable[[Trouble | None, float], None]) -> Any:  # noqa: ANN401
            self.microphone = WeekMicrophone(name, told)
            return self.microphone

        watch = SettingsWatch(self.home.settings)
        with ExitStack() as parts:
            parts.enter_context(mock.patch.object(live, "Ticks", NoTicks))
            parts.enter_context(mock.patch.object(ear, "steady_s", self.clock.steady_s))
            self.live = Live(
                self.home.log,
                watch.settings,
                ear=EarParts(open_spotter, open_microphone, _choose_engine(self.home)),
                clock=self.clock,
                settings_watch=watch,
            )
            self._upkeep = Upkeep(self.home, self.live, "")
            parts.callback(self._upkeep.stop)
            self.live.start()
            parts.callback(self.live.stop)
            port = LivePort(self.live, lambda: None, LogPort(self.home.log, self.clock.wall))
            self.pages = PageServer(self.home, port, self.clock.wall).start()
            parts.callback(self.pages.stop)
            self._keys = GestureReader(watch.settings.bindings.wanted, watch.settings.gestures.timings())
            self._parts = parts.pop_all()

    def stop(self) -> None:
        """End, as at a log-out."""
        self._parts.close()

    def go_to(self, moment: float | datetime) -> None:
        """Let time pass until `moment`, of the steady clock or on the wall."""
        end_s = self.clock.at_s(moment) if isinstance(moment, datetime) else moment
        while (now_s := self.clock.steady_s()) < end_s:
            self.clock.set_s(min(now_s + TICK_S, end_s))
            self.tick()

    def tick(self) -> None:
        """Do what the time asks for."""
        self.live.tick().result()
        if self.clock.steady_s() - self._looked_s >= UPKEEP_S:
            self._looked_s = self.clock.steady_s()
            self._upkeep.look()

    def hear(self, sound: Sound, meanwhile: dict[int, Callable[[], None]] | None = None) -> float:
        """Let the microphone hear `sound` from now on; return when it began, after all of it is decided.

        meanwhile: what else happens, by the number of the block after which it does.
        """
        began_s = self.hear_without_waiting(sound, meanwhile)
        self.settle()
        return began_s

    def hear_without_waiting(
        self, sound: Sound, meanwhile: dict[int, Callable[[], None]] | None = None
    ) -> float:
        """Let the microphone hear `sound`, as `hear` does; what was said in it may be decided later."""
        began_s = self.clock.steady_s()
        for number, first in enumerate(range(0, len(sound), BLOCK)):
            piece = sound[first : first + BLOCK]
            if self.microphone is not None:
                self.microphone.hear(piece, began_s + first / SAMPLE_RATE, after_gap=first == 0)
            self.clock.set_s(began_s + (first + len(piece)) / SAMPLE_RATE)
            if meanwhile and number in meanwhile:
                meanwhile[number]()
        return began_s

    def finish(self, spotter: NotedSpotter | None) -> None:
        """Wait until a recogniser whose lesson is over has said its last."""
        assert spotter is not None
        until(lambda: spotter.is_finished, limit_s=60)
        self.live.soon(lambda: None).result()

    def settle(self) -> None:
        """Wait until what was heard is decided and recorded; the clock stands still meanwhile."""
        until(self._is_settled, limit_s=120)
        self.live.soon(lambda: None).result()

    def _is_settled(self) -> bool:
        microphone, spotter = self.microphone, self.spotter
        if microphone is None or microphone.closed or microphone.trouble:
            return True
        if spotter is None or not microphone.blocks.empty():
            return False
        if spotter.is_done and spotter.inner.name:
            return True
        # What was decided is fetched with the next block; it may hold nothing.
        microphone.hear(NOTHING, self.clock.steady_s())
        return False

    def press(self, key: str, *holds_s: float) -> list[Future[Any]]:
        """Press a key as often, and as long, as `holds_s` says; return what becomes of each gesture."""
        asked: list[Future[Any]] = []
        at_s = self.clock.steady_s()
        for held_s in holds_s:
            for pressed, moment_s in ((True, at_s), (False, at_s + held_s)):
                asked += self._deliver(
                    self._keys.take(KeyEvent(key, pressed, round(moment_s * 1000))), moment_s
                )
            at_s += held_s + BETWEEN_S
        while (due_ms := self._keys.due_ms) is not None:
            asked += self._deliver(self._keys.settle(due_ms), due_ms / 1000)
        return asked

    def _deliver(self, gestures: list[Any], now_s: float) -> list[Future[Any]]:
        self.clock.set_s(now_s)
        asked = []
        for gesture in gestures:
            command = self.live.settings.bindings.command_for(gesture)
            if command is not None:
                asked.append(self.live.ask(command, Source.KEY, gesture.at_ms / 1000))
        return asked

    @contextmanager
    def log_locked(self) -> Iterator[None]:
        """Hold the log, as another program does that writes."""
        with closing(sqlite3.connect(self.home.log, isolation_level=None, timeout=1)) as db:
            db.execute("BEGIN IMMEDIATE")
            yield


BETWEEN_S = 0.12
NOTHING: Sound = np.zeros(0, np.int16)
