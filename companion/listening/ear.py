"""The ear of a lesson: from the microphone through the spotter to candidates, on a thread of its own."""

import logging
import queue
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from companion.clock import steady_s
from companion.errors import CompanionError
from companion.language import later
from companion.listening.candidate import Candidate
from companion.listening.microphone.capture import Block, Microphone
from companion.listening.microphone.recent import Recent
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.spotter import Spotter
from companion.listening.spotter_process import ProcessSpotter

log = logging.getLogger(__name__)

WAIT_S = 0.2
GAP: Sound = np.zeros(SAMPLE_RATE // 2, np.int16)
"""Silence that the spotter is given in place of a gap, so that no phrase reaches across it."""
NOTHING = Block(GAP[:0], 0.0, after_gap=False)
FIRST_RETRY_S, LAST_RETRY_S = 1.0, 30.0


@dataclass(frozen=True, slots=True)
class Catch:
    """A candidate, when the spotter's time 0 was on the clock `steady_s`, and what it sounded like."""

    candidate: Candidate
    zero_s: float
    sound: Sound


class Ear:
    """Listens from its making until `close`.

    deliver(catch) and on_failure(error, now_s) are called from the ear's own thread; `error` is None when
    listening works again. Neither may wait for the ear.
    """

    def __init__(
        self,
        microphone: Microphone,
        open_spotter: Callable[[], Spotter],
        deliver: Callable[[Catch], None],
        on_failure: Callable[[CompanionError | None, float], None],
    ) -> None:
        self.microphone = microphone
        self._open_spotter = open_spotter
        self._deliver = deliver
        self._on_failure = on_failure
        self._closed = threading.Event()
        self._thread = threading.Thread(target=self._run, name="ear", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Close the microphone at once; what was said until now is still delivered, when it is decided."""
        self.microphone.close()
        self._closed.set()

    def wait(self, patience_s: float) -> None:
        """Wait after `close` until everything is delivered, but no longer than `patience_s`."""
        self._thread.join(patience_s)

    def _run(self) -> None:
        retry_s, failed = FIRST_RETRY_S, False
        while not self._closed.is_set():
            try:
                spotter = self._open_spotter()
                if isinstance(spotter, ProcessSpotter):
                    spotter.on_found = self._wake
                hearing = Hearing(spotter, self._deliver)
                if failed:
                    self._on_failure(None, steady_s())
                    failed = False
                self._hear(hearing)
            except Exception as error:
                # A recogniser that fails must not end the lesson; it is tried again, with what it said kept.
                log.exception("the recogniser failed")
                failure = CompanionError(later("the recogniser failed"))
                self._on_failure(error if isinstance(error, CompanionError) else failure, steady_s())
                failed = True
                self._closed.wait(retry_s)
                retry_s = min(LAST_RETRY_S, 2 * retry_s)

    def _wake(self) -> None:
        """Let what was found be delivered at once, and not with the next sound."""
        with suppress(queue.Full):
            self.microphone.blocks.put_nowait(NOTHING)

    def _hear(self, hearing: "Hearing") -> None:
        while True:
            try:
                block = self.microphone.blocks.get(timeout=WAIT_S)
            except queue.Empty:
                if self._closed.is_set():
                    break
            else:
                hearing.hear(block)
        hearing.finish()


class Hearing:
    """One spotter at work, with the time of its samples and the last seconds of sound."""

    def __init__(self, spotter: Spotter, deliver: Callable[[Catch], None]) -> None:
        self._spotter = spotter
        self._deliver = deliver
        self._recent = Recent()
        self._heard = 0
        self._zeros: list[tuple[int, float]] = []
        """Since which sample the spotter's time 0 was when on the clock; a new entry after each gap."""

    def hear(self, block: Block) -> None:
        """Take the next block, which may follow a gap, or `NOTHING`."""
        if block is NOTHING:
            self._hand_on(self._spotter.hear(block.sound))
            return
        if block.after_gap and self._zeros:
            self._give(GAP)
        if block.after_gap or not self._zeros:
            self._zeros.append((self._heard, block.began_s - self._heard / SAMPLE_RATE))
        self._give(block.sound)

    def finish(self) -> None:
        """Deliver what is still undecided."""
        self._hand_on(self._spotter.finish())

    def _give(self, sound: Sound) -> None:
        self._recent.hear(sound)
        self._heard += len(sound)
        self._hand_on(self._spotter.hear(sound))

    def _hand_on(self, candidates: list[Candidate]) -> None:
        for candidate in candidates:
            begin = candidate.begin_ms * SAMPLE_RATE // 1000
            zero_s = next((zero for since, zero in reversed(self._zeros) if since <= begin), 0.0)
            sound = self._recent.cut(candidate.begin_ms, candidate.end_ms)
            self._deliver(Catch(candidate, zero_s, sound))
