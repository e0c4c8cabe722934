"""Which microphones there are: asked in a child process, because a broken sound set-up can end the asker.

The name of a device is all that stays the same from one start of the sound system to the next, so the
settings name a device by it and every opening looks for it anew.
"""

import json
import subprocess
import sys
from dataclasses import asdict, dataclass

from companion.errors import CompanionError

PROBE_LIMIT_S = 6.0
"""A frozen sound server answers nobody; a sound one within a fraction of a second."""


@dataclass(frozen=True, slots=True)
class Device:
    """A microphone, as the sound system describes it."""

    index: int
    """Place in the sound system's list; true only until that list is made anew."""
    name: str
    system: str
    """Part of the operating system that offers it (ALSA, Core Audio, Windows WASAPI …)."""
    channels: int
    rate: int
    """The device's own, in hertz."""
    is_default: bool


class SoundSystemError(CompanionError):
    """The sound system is missing, broken, or does not answer."""


def list_here() -> list[Device]:
    """Return the microphones that PortAudio knows in this process, without asking the hardware anew."""
    import sounddevice as sd  # noqa: PLC0415

    try:
        default = sd.query_devices(kind="input")["index"]
    except (sd.PortAudioError, ValueError):
        default = -1
    return [
        Device(
            index=found["index"],
            name=found["name"],
            system=sd.query_hostapis(found["hostapi"])["name"],
            channels=found["max_input_channels"],
            rate=round(found["default_samplerate"]),
            is_default=found["index"] == default,
        )
        for found in sd.query_devices()
        if found["max_input_channels"] > 0
    ]


def probe() -> list[Device]:
    """Return the microphones that are there now, found by a child process.

    Raises SoundSystemError if the sound system is not installed, breaks, or does not answer.
    """
    command = [sys.executable, "-m", "companion.listening.microphone.devices"]
    try:
        done = subprocess.run(command, capture_output=True, timeout=PROBE_LIMIT_S, check=False)  # noqa: S603
    except subprocess.TimeoutExpired:
        raise SoundSystemError(
            "The computer's sound system does not answer.", remedy="If this lasts, restart the computer."
        ) from None
    if done.returncode == NO_LIBRARY:
        raise no_library()
    if done.returncode != 0:
        raise SoundSystemError(
            f"The computer's sound system broke when asked for microphones (status {done.returncode}).",
            remedy="Look whether another program can record; if not, mend the sound settings first.",
        )
    return [Device(**found) for found in json.loads(done.stdout)]


def choose(devices: list[Device], name: str | None) -> Device | None:
    """Return the device called `name` (exactly, else in part), or for None the default one, if there."""
    if name is None:
        return next((d for d in devices if d.is_default), None)
    exact = [d for d in devices if d.name == name]
    return next(iter(exact or [d for d in devices if name.casefold() in d.name.casefold()]), None)


def no_library() -> SoundSystemError:
    """Return what is said where nothing can read a microphone."""
    return SoundSystemError(
        "The part that reads the microphone is not installed.",
        remedy="Install the program anew with the first command of its README, which brings it.",
    )


NO_LIBRARY = 3


def _answer() -> int:
    try:
        found = list_here()
    except (ImportError, OSError):
        return NO_LIBRARY
    print(json.dumps([asdict(device) for device in found]))
    return 0


if __name__ == "__main__":
    sys.exit(_answer())
