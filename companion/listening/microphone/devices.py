"""Which microphones there are: asked in a child process, because a broken sound set-up can end the asker.

The name of a device is all that stays the same from one start of the sound system to the next, so the
settings name a device by it and every opening looks for it anew.
"""

import json
import os
import subprocess
import sys
from dataclasses import asdict, dataclass

from companion.errors import CompanionError
from companion.language import _
from companion.parent import end_with

PROBE_LIMIT_S = 6.0
"""A frozen sound server answers nobody; a sound one within a fraction of a second."""

SERVERS = frozenset({"default", "pulse", "pipewire", "sysdefault"})
"""What ALSA calls the sound server, whichever microphone it gives."""
ASK_SERVER = ("pactl", "get-default-source")
ASK_LIMIT_S = 2.0
NO_SOURCE = frozenset({"(null)", "@DEFAULT_SOURCE@"})
"""What PulseAudio 16 and PipeWire's server say where there is none."""


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
    command = [sys.executable, "-m", "companion.listening.microphone.devices", str(os.getpid())]
    try:
        done = subprocess.run(command, capture_output=True, timeout=PROBE_LIMIT_S, check=False)  # noqa: S603
    except subprocess.TimeoutExpired:
        raise SoundSystemError(
            _("The computer's sound system does not answer."),
            remedy=_("If this lasts, restart the computer."),
        ) from None
    if done.returncode == NO_LIBRARY:
        raise no_library()
    if done.returncode != 0:
        raise SoundSystemError(
            _(
                "The computer's sound system broke when asked for microphones (status {status}).",
                status=done.returncode,
            ),
            remedy=_("Look whether another program can record; if not, mend the sound settings first."),
        )
    return [Device(**found) for found in json.loads(done.stdout)]


def choose(devices: list[Device], name: str | None) -> Device | None:
    """Return the device called `name` (exactly, else in part), or for None the default one, if there."""
    if name is None:
        return next((d for d in devices if d.is_default), None)
    exact = [d for d in devices if d.name == name]
    return next(iter(exact or [d for d in devices if name.casefold() in d.name.casefold()]), None)


def is_plugged(device: Device) -> bool:
    """Whether a microphone is behind `device`: where the last one was unplugged, a sound server of Linux goes
    on with silence, or with what the loudspeaker plays, and says nothing.

    Only the server itself knows; where it can't be asked, there is taken to be one.
    """
    if device.system != "ALSA" or device.name not in SERVERS:
        return True
    environment = {**os.environ, "LC_ALL": "C"}
    try:
        said = subprocess.run(  # noqa: S603 - the sound server's own tool
            ASK_SERVER, env=environment, capture_output=True, text=True, timeout=ASK_LIMIT_S, check=True
        )
    except (OSError, subprocess.SubprocessError):
        return True
    source = said.stdout.strip()
    return bool(source) and source not in NO_SOURCE and not source.endswith(".monitor")


def no_library() -> SoundSystemError:
    """Return what is said where nothing can read a microphone."""
    return SoundSystemError(
        _("The part that reads the microphone is not installed."),
        remedy=_("Install the program anew with the first command of its README, which brings it."),
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
    end_with(int(sys.argv[1]))
    sys.exit(_answer())
