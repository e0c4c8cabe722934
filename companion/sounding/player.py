"""The process that plays the tones: a loudspeaker that hangs keeps no mark and no microphone waiting."""

import signal
from multiprocessing.connection import Connection

from companion.sounding.sounds import Tone, sound_of


def play_all(pipe: Connection) -> None:
    """Play each (tone, volume) that comes, and answer with "" or with why it could not be played."""
    # Ctrl+C goes to both processes; the other side ends us.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        while True:
            tone, volume = pipe.recv()
            try:
                _play_anywhere(tone, volume)
            except Exception as error:
                pipe.send(str(error) or type(error).__name__)
            else:
                pipe.send("")
    except (EOFError, OSError):
        return


def _play_anywhere(tone: Tone, volume: float) -> None:
    """Play `tone` on the loudspeaker that is there now, were it plugged in a moment ago."""
    import sounddevice as sd  # noqa: PLC0415 - may be missing; that is told as any trouble is

    try:
        _play(tone, volume)
    except sd.PortAudioError:
        sd._terminate()  # noqa: SLF001 - the only way to see devices that came later
        sd._initialize()  # noqa: SLF001
        _play(tone, volume)


def _play(tone: Tone, volume: float) -> None:
    import sounddevice as sd  # noqa: PLC0415

    rate = round(sd.query_devices(kind="output")["default_samplerate"])
    with sd.RawOutputStream(samplerate=rate, channels=1, dtype="float32") as stream:
        stream.write(sound_of(tone, rate, volume).tobytes())
