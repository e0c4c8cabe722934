"""Nothing leaves this computer: the program is watched from outside, by strace, in a fresh home.

The demo and the rehearsal are watched where they are tested anyway, in `commands/`.
"""

import json
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from http.cookiejar import CookieJar
from pathlib import Path

import numpy as np
import pytest
import soundfile

from companion.background.control import NotRunningError, ask
from companion.listening.sound import SAMPLE_RATE
from companion.paths import Home
from companion.samples.sample import bundled_sample
from tests.rig_sound import SoundRig
from tests.waiting import until
from tests.watched import Watch

FIRST_MARK_S = slice(14, 22)
"""Seconds of the calm lesson in which the teacher says the first praise, with talk and kitchen around it."""


@pytest.fixture
def running(watch: Watch, sound_rig: SoundRig, no_screen: None) -> Iterator[Home]:
    """Give a companion that runs, watched, with the starter's settings and a microphone."""
    assert sound_rig.server.poll() is None
    assert no_screen is None
    home = Home(watch.companion)
    watch.run("init", "--yes")
    command = [sys.executable, "-m", "companion", "--home", str(home.folder), "run"]
    process = subprocess.Popen([*watch.prefix(), *command], env=watch.environment, stderr=subprocess.PIPE)
    try:
        assert until(lambda: _answers(home), limit_s=60)
        yield home
    finally:
        process.terminate()
        process.communicate()


def test_a_whole_lesson_asks_nobody_and_writes_only_in_its_own_folder(
    watch: Watch, running: Home, sound_rig: SoundRig, tmp_path: Path
) -> None:
    """From the microphone to the note, with pages, review, and doctor."""
    room = sound_rig.play(_noise(tmp_path))
    watch.run("open", "4-Hazel")
    assert until(lambda: ask(running.control, {"do": "status"})["microphone"].startswith("open"), limit_s=60)
    sound_rig.play(_spoken(tmp_path)).wait()
    assert until(lambda: "1 praise" in ask(running.control, {"do": "status"})["count"])
    room.kill()
    room.wait()
    watch.run("mark", "reminder")
    watch.run("close")
    pages = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
    for page in ("/", "/history"):
        address = ask(running.control, {"do": "pages", "to": page})["address"]
        assert "4-Hazel" in pages.open(address).read().decode()
    watch.run("stop")
    marks = [mark["id"] for mark in json.loads(watch.run("review", "--json"))["marks"]]
    watch.run("review", "keep", *marks)
    watch.run("settle", "--rating", "went well", "--carry-over", "Practise: stand ready at the gate.")
    watch.run("note")
    watch.run("doctor", code=1)
    assert watch.left() == []
    # The sound system's own client keeps its key where the sound server is.
    assert [path for path in watch.strayed() if not path.startswith(str(sound_rig.folder))] == []


def test_the_watch_sees_what_leaves_and_what_strays(watch: Watch) -> None:
    """A look-up of a name, a packet beyond this computer and a file in the home are each told."""
    script = (
        "import pathlib, socket\n"
        "try: socket.getaddrinfo('alder-lane.invalid', 80)\n"
        "except OSError: pass\n"
        "try: socket.socket(socket.AF_INET, socket.SOCK_DGRAM).sendto(b'x', ('192.0.2.1', 9))\n"
        "except OSError: pass\n"
        "socket.socket().bind(('127.0.0.1', 0))\n"
        "(pathlib.Path.home() / 'left').write_text('x')\n"
    )
    watch.run_program(sys.executable, "-c", script)
    left = " ".join(watch.left())
    assert ("htons(53)" in left, "192.0.2.1" in left, "127.0.0.1" in left) == (True, True, False)
    assert watch.strayed() == [str(watch.home / "left")]


def _answers(home: Home) -> bool:
    try:
        ask(home.control, {"do": "status"})
    except NotRunningError:
        return False
    return True


def _noise(folder: Path) -> Path:
    """Return minutes of a quiet room: exact silence is told as a microphone that is muted."""
    path = folder / "noise.wav"
    samples = np.random.default_rng(1).normal(0, 10, 300 * SAMPLE_RATE).astype(np.int16)
    soundfile.write(path, samples, SAMPLE_RATE)
    return path


def _spoken(folder: Path) -> Path:
    sound, rate = soundfile.read(bundled_sample("calm-garden").sound)
    path = folder / "spoken.wav"
    soundfile.write(path, sound[FIRST_MARK_S.start * rate : FIRST_MARK_S.stop * rate], rate)
    return path
