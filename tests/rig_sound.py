"""A sound server of the tests' own with one microphone into which they play.

The microphone is a null sink's monitor. `norewinds=1` matters: without it the first second of a sound is
lost. Sounds need some silence at their end, since the last 20 ms may not come through.
"""

import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.systems import skip_beyond_linux

MICROPHONE = (
    "module-remap-source source_name=mic master=mic_in.monitor source_properties=device.description=mic"
)
SINK = "module-null-sink norewinds=1 rate=48000"


class SoundRig:
    """A running sound server, and what can happen to its microphone."""

    def __init__(self, folder: Path, *, with_microphone: bool = True) -> None:
        """Write the server's settings into `folder` and start it."""
        self.folder = folder
        self.environment = {
            "PULSE_SERVER": f"unix:{folder}/pulse.sock",
            "PULSE_RUNTIME_PATH": str(folder),
            "PULSE_STATE_PATH": str(folder),
            "PULSE_COOKIE": str(folder / "cookie"),
            "PULSE_CLIENTCONFIG": str(folder / "client.conf"),
            "ALSA_CONFIG_PATH": str(folder / "asound.conf"),
            "DBUS_SESSION_BUS_ADDRESS": f"unix:path={folder}/no-bus",
            "XDG_RUNTIME_DIR": str(folder),
        }
        (folder / "client.conf").write_text("autospawn = no\n")
        (folder / "asound.conf").write_text("pcm.!default { type pulse }\nctl.!default { type pulse }\n")
        native = "module-native-protocol-unix auth-cookie-enabled=0 auth-anonymous=1"
        lines = [f"load-module {native} socket={folder}/pulse.sock", f"load-module {SINK} sink_name=speaker"]
        if with_microphone:
            lines += [f"load-module {SINK} channels=1 sink_name=mic_in", f"load-module {MICROPHONE}"]
            lines += ["set-default-source mic"]
        (folder / "rig.pa").write_text("\n".join([*lines, "set-default-sink speaker", ""]))
        self._with_microphone = with_microphone
        self.start()

    def start(self) -> None:
        """Start the server, and wait until it answers."""
        command = ["pulseaudio", "-n", "-F", str(self.folder / "rig.pa"), "--daemonize=no"]
        command += ["--use-pid-file=no", "--exit-idle-time=-1", "--realtime=no", "--high-priority=no"]
        with (self.folder / "pulse.log").open("ab") as log:
            self.server = subprocess.Popen(
                [*command, "--log-target=stderr"],
                env={**os.environ, **self.environment, "HOME": str(self.folder)},
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        for _ in range(200):
            if self._pactl("info", check=False).returncode == 0 and (
                not self._with_microphone or b"mic" in self._pactl("get-default-source").stdout
            ):
                return
            time.sleep(0.05)
        raise AssertionError((self.folder / "pulse.log").read_text())

    def kill(self) -> None:
        """Let the server die."""
        self.server.kill()
        self.server.wait()

    def freeze(self) -> None:
        """Let the server answer nobody."""
        self.server.send_signal(19)

    def thaw(self) -> None:
        """Let a frozen server go on."""
        self.server.send_signal(18)

    def unplug(self) -> None:
        """Take the microphone away."""
        self._pactl("unload-module", "module-remap-source")

    def plug(self) -> None:
        """Bring the microphone back."""
        self._pactl("load-module", *MICROPHONE.split())
        self._pactl("set-default-source", "mic")

    def mute(self, *, on: bool) -> None:
        """Turn the microphone's mute switch."""
        self._pactl("set-source-mute", "mic", "1" if on else "0")

    def set_level(self, percent: float) -> None:
        """Let the microphone deliver so much of the sound's own amplitude, as a sound card's level does."""
        self._pactl("set-source-volume", "mic", str(round(65536 * (percent / 100) ** (1 / 3))))

    def stall(self, *, on: bool) -> None:
        """Let the microphone deliver nothing, or go on."""
        self._pactl("suspend-source", "mic", "1" if on else "0")

    def play(self, sound: Path) -> subprocess.Popen[bytes]:
        """Begin to play the sound file into the microphone."""
        return subprocess.Popen(
            ["paplay", "--device=mic_in", str(sound)], env={**os.environ, **self.environment}
        )

    def _pactl(self, *words: str, check: bool = True) -> subprocess.CompletedProcess[bytes]:
        environment = {**os.environ, **self.environment}
        return subprocess.run(
            ["pactl", *words], env=environment, check=check, timeout=20, capture_output=True
        )


@contextmanager
def open_sound_rig(*, with_microphone: bool = True) -> Iterator[SoundRig]:
    """Start a sound server, name it in the environment, and end it afterwards."""
    folder = Path(tempfile.mkdtemp(prefix="rig-"))
    rig = SoundRig(folder, with_microphone=with_microphone)
    with pytest.MonkeyPatch.context() as environment:
        for name, value in rig.environment.items():
            environment.setenv(name, value)
        environment.delenv("PULSE_SOURCE", raising=False)
        environment.delenv("PULSE_SINK", raising=False)
        try:
            yield rig
        finally:
            rig.thaw()
            rig.kill()
            shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def sound_rig() -> Iterator[SoundRig]:
    """Give the test a sound server with a microphone."""
    skip_beyond_linux()
    with open_sound_rig() as rig:
        yield rig
