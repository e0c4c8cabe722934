"""The microphone: opened, watched and mended by itself, and closed at once when it is told so.

PortAudio's own thread only copies into a ring. One thread of ours empties the ring, brings the sound to
`SAMPLE_RATE`, watches it, and hands it on; opening and closing happen on a side thread, because with a
frozen sound system either may not return.
"""

import math
import queue
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
import soxr
from numpy.typing import NDArray

from companion.clock import steady_s
from companion.listening.microphone.devices import (
    Device,
    SoundSystemError,
    choose,
    is_plugged,
    list_here,
    probe,
)
from companion.listening.microphone.faint import FaintSpeech
from companion.listening.microphone.gate import level_db
from companion.listening.microphone.pace import EMPTY_EVERY_S, Pace
from companion.listening.microphone.ring import Ring
from companion.listening.microphone.trouble import Trouble, Watch
from companion.listening.sound import SAMPLE_RATE, Sound

BLOCK_S = 0.02
RING_S = 4
OPENING_LIMIT_S = 8.0
"""An opening that takes longer is reported as a frozen sound system; it is still waited for."""
CLOSING_LIMIT_S = 1.0
"""A frozen sound system may take longer to take a device back; nobody waits for that."""
STARVED_S = 0.5
"""When our own thread comes so late, a lack of sound says nothing about the device."""
SETTLE_S = 0.6
"""Sound of a freshly opened device that must come before a trouble counts as mended."""
FIRST_RETRY_S, LAST_RETRY_S = 0.5, 8.0
HOLD_BEHIND_S = 2.0
"""How long a loss of sound is shown, so that single losses join into one stretch."""
WAITING_BLOCKS = 150
"""Blocks kept for a spotter that is behind (about five seconds); later ones are lost and reported."""
QUIET_DBFS = -120.0

SOUND_SYSTEM = threading.RLock()
"""Held while PortAudio starts anew, which ends every open stream of this process."""


@dataclass(frozen=True, slots=True)
class Block:
    """Sound, and when its first sample was captured on the clock `steady_s`."""

    sound: Sound
    began_s: float
    after_gap: bool
    """Whether sound was lost, or none came, between the block before and this one."""


class Stream(Protocol):
    """An open device."""

    rate: int
    last_call_s: float

    def read(self) -> NDArray[np.int16]:
        """Return what was delivered since the last read (frames × channels)."""
        ...

    @property
    def ended(self) -> bool:
        """Whether the device has given up for good."""
        ...

    @property
    def lost_frames(self) -> int:
        """Frames that were lost since the opening, as far as anybody noticed."""
        ...

    def close(self) -> None:
        """Give the device back."""
        ...


class PortAudioStream:
    """An open PortAudio input that fills a ring."""

    def __init__(self, device: Device) -> None:
        """Open `device` at 16 kHz mono if it takes that, else at its own rate and number of channels.

        Raises sounddevice.PortAudioError if it can't be opened at all.
        """
        import sounddevice as sd  # noqa: PLC0415

        self._finished = False
        self._overflows = 0
        tries: list[tuple[int, int, Any]] = [(SAMPLE_RATE, 1, None)]
        if "WASAPI" in device.system:
            tries.append((SAMPLE_RATE, 1, sd.WasapiSettings(auto_convert=True)))
        tries += [(device.rate, 1, None), (device.rate, device.channels, None)]
        for number, (rate, channels, extra) in enumerate(tries, start=1):
            self.rate = rate
            self._ring = Ring(RING_S * rate, channels)
            self.last_call_s = steady_s()
            try:
                self._stream = sd.InputStream(
                    device=device.index,
                    samplerate=rate,
                    channels=channels,
                    dtype="int16",
                    blocksize=round(BLOCK_S * rate),
                    extra_settings=extra,
                    callback=self._copy,
                    finished_callback=self._finish,
                )
                self._stream.start()
            except sd.PortAudioError:
                if number == len(tries):
                    raise
            else:
                return

    def _copy(self, indata: NDArray[np.int16], _frames: int, _times: object, status: object) -> None:
        self.last_call_s = steady_s()
        if status:
            self._overflows += 1
        self._ring.write(indata)

    def _finish(self) -> None:
        self._finished = True

    def read(self) -> NDArray[np.int16]:
        """Return what was delivered since the last read."""
        return self._ring.read()

    @property
    def ended(self) -> bool:
        """Whether PortAudio has ended the stream."""
        return self._finished

    @property
    def lost_frames(self) -> int:
        """Dropped frames, with a block for every overflow that PortAudio reported."""
        return self._ring.dropped + self._overflows * round(BLOCK_S * self.rate)

    def close(self) -> None:
        """Close the stream, which also stops it."""
        self._stream.close()


def open_port_audio(name: str | None) -> Stream:
    """Start PortAudio anew, so that it sees what is there now, and open the device called `name`.

    Raises SoundSystemError as `probe`, LookupError if no such device is there, OSError if it can't be opened.
    """
    probe()
    import sounddevice as sd  # noqa: PLC0415

    with SOUND_SYSTEM:
        sd._terminate()  # noqa: SLF001 - the only way to see devices that came later
        sd._initialize()  # noqa: SLF001
        device = choose(list_here(), name)
        if device is None or not is_plugged(device):
            raise LookupError(name)
        try:
            return PortAudioStream(device)
        except sd.PortAudioError as error:
            raise OSError(str(error)) from error


class Microphone:
    """Listens from its making until `close`; what is wrong with the device never ends it.

    on_trouble(trouble, since_s) is called from the microphone's own thread when a trouble is noticed that
    began at `since_s`, or when it has ended (None); it must return at once.
    """

    def __init__(
        self,
        name: str | None,
        on_trouble: Callable[[Trouble | None, float], None],
        open_stream: Callable[[str | None], Stream] = open_port_audio,
    ) -> None:
        """Begin to open the device called `name` (None: the default one), without waiting for it."""
        self.trouble: Trouble | None = None
        self.level_dbfs = -math.inf
        """Loudness of the newest sound; minus infinity before any has come."""
        self.blocks: queue.Queue[Block] = queue.Queue(WAITING_BLOCKS)
        self._doubted: Trouble | None = None
        self._name = name
        self._on_trouble = on_trouble
        self._open_stream = open_stream
        self._closed = threading.Event()
        self._patience_s = 0.0
        self._lost_at_s = -math.inf
        self._gap = True
        self._faint = FaintSpeech()
        self._thread = threading.Thread(target=self._run, name="microphone", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Give the device back at once; nothing that is heard from now on is handed out."""
        self._closed.set()
        self._thread.join(CLOSING_LIMIT_S)

    def _run(self) -> None:
        stream: Stream | None = None
        noticed: Trouble | None = None
        while not self._closed.is_set():
            stream = self._open_anew(stream)
            if stream is not None:
                if noticed:
                    self._tell(noticed)
                noticed = self._listen(stream)
            else:
                self._closed.wait(max(self._patience_s, FIRST_RETRY_S))
            self._patience_s = min(LAST_RETRY_S, max(FIRST_RETRY_S, 2 * self._patience_s))
        if stream is not None:
            _Aside(stream.close).done.wait(CLOSING_LIMIT_S)

    def _open_anew(self, old: Stream | None) -> Stream | None:
        """Close `old` and open the device; None, with the trouble told, if that fails or isn't wanted now."""
        opening = _Aside(lambda: self._reopen(old))
        began_s = steady_s()
        while not opening.done.wait(EMPTY_EVERY_S):
            if self._closed.is_set():
                return None
            if steady_s() - began_s > OPENING_LIMIT_S:
                self._tell(Trouble.FROZEN, began_s)
        match opening.error:
            case None:
                return opening.result
            case LookupError():
                self._tell(Trouble.GONE, began_s)
            case SoundSystemError():
                self._tell(Trouble.FROZEN, began_s)
            case _:
                self._tell(Trouble.TAKEN, began_s)
        return None

    def _reopen(self, old: Stream | None) -> Stream | None:
        if old is not None:
            with SOUND_SYSTEM:
                old.close()
        stream = self._open_stream(self._name)
        if self._closed.is_set():
            stream.close()
            return None
        return stream

    def _listen(self, stream: Stream) -> Trouble | None:
        """Hand on what `stream` delivers until it is not wanted any more or has to be opened anew.

        Return what is to be told only if it opens: in the place of a microphone that was unplugged, a sound
        server gives perfect silence, as a muted one does.
        """
        opened_s = now_s = steady_s()
        self._gap = True
        watch = Watch(stream.rate, opened_s)
        convert = _Converter(stream.rate)
        pace = Pace()
        bad_since_s: float | None = None
        lost = 0
        while not self._closed.wait(pace.wait_s):
            last_call_s = stream.last_call_s
            frames = stream.read()
            before_s, now_s = now_s, steady_s()
            if now_s - before_s > STARVED_S:
                watch.forgive(now_s)
            sound = convert(frames)
            if stream.lost_frames > lost:
                lost, self._lost_at_s, self._gap = stream.lost_frames, now_s, True
            watch.hear(sound, len(frames), last_call_s)
            self._faint.hear(sound)
            pace.hear(sound)
            self._hand_on(sound, last_call_s)
            trouble = Trouble.GONE if stream.ended else watch.trouble(now_s)
            if trouble in (None, Trouble.MUTED) and self._faint.too_quiet:
                trouble = Trouble.FAINT
            if trouble is Trouble.MUTED and self.trouble is not Trouble.MUTED:
                return trouble
            self._gap = self._gap or trouble is Trouble.STALLED
            if trouble is None and now_s - self._lost_at_s < HOLD_BEHIND_S:
                trouble = Trouble.BEHIND
            if trouble is not None:
                self._tell(trouble)
            elif now_s - opened_s > SETTLE_S and watch.sounds(now_s):
                self._tell(None)
                self._patience_s = 0.0
            if trouble is None or not trouble.mended_by_opening_anew:
                bad_since_s = None
                continue
            bad_since_s = now_s if bad_since_s is None else bad_since_s
            if now_s - bad_since_s >= self._patience_s:
                return None
        return None

    def _hand_on(self, sound: Sound, last_call_s: float) -> None:
        if not len(sound):
            return
        self.level_dbfs = max(QUIET_DBFS, level_db(sound))
        try:
            self.blocks.put_nowait(Block(sound, last_call_s - len(sound) / SAMPLE_RATE, self._gap))
            self._gap = False
        except queue.Full:
            self._lost_at_s, self._gap = steady_s(), True

    def _tell(self, trouble: Trouble | None, since_s: float | None = None) -> None:
        """Tell a trouble or its end, once; another reason in its place only when that comes twice in a row.

        On a busy computer a device that is not there is now and then one of which nobody answers in time.
        since_s: when it began, where that is known.
        """
        before, self._doubted = self._doubted, trouble
        if trouble is not self.trouble and (not self.trouble or not trouble or trouble is before):
            self.trouble = trouble
            if since_s is None:
                since_s = steady_s() - (trouble.noticed_after_s if trouble else 0.0)
            self._on_trouble(trouble, since_s)


class _Converter:
    """From a device's own rate and channels to one channel at `SAMPLE_RATE`."""

    def __init__(self, rate: int) -> None:
        self._resample = None
        if rate != SAMPLE_RATE:
            self._resample = soxr.ResampleStream(rate, SAMPLE_RATE, 1, dtype="int16")

    def __call__(self, frames: NDArray[np.int16]) -> Sound:
        mono = frames[:, 0] if frames.shape[1] == 1 else frames.mean(axis=1).astype(np.int16)
        if self._resample is None or not len(mono):
            return mono
        return np.asarray(self._resample.resample_chunk(mono), np.int16)


class _Aside:
    """One call on a thread of its own, since it may never come back."""

    def __init__(self, call: Callable[[], Stream | None]) -> None:
        self.done = threading.Event()
        self.result: Stream | None = None
        self.error: Exception | None = None
        self._call = call
        threading.Thread(target=self._run, name="microphone, opening", daemon=True).start()

    def _run(self) -> None:
        try:
            self.result = self._call()
        except Exception as error:  # whatever it is, the thread that asked decides
            self.error = error
        finally:
            self.done.set()
