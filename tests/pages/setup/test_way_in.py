"""The whole way in, as somebody with little patience goes it: from an empty home to the first lesson."""

import contextlib
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from playwright.sync_api import BrowserContext, Page, expect

from companion.background.client import is_running, stop
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.paths import Home
from companion.settings.settings import load_settings
from tests.listening.speakers import say
from tests.rig import Screen
from tests.rig_sound import SoundRig
from tests.waiting import until

LONG_MS = 120_000
"""For what learns or examines on a busy machine."""
WEEK = "\n".join(f"{period}\t4-Hazel\t2-Birch\t5-Oak\tK-Fir\t3-Elm" for period in range(1, 8))


@pytest.fixture
def begun(tmp_path: Path, sound_rig: SoundRig, screen: Screen) -> Iterator[tuple[Home, str]]:
    """Call `companion` alone in an empty home; give the home and the address that it told."""
    assert sound_rig.server.poll() is None
    assert screen.server.poll() is None
    home = Home(tmp_path / "home")
    environment = os.environ | {"COMPANION_HOME": str(home.folder), "BROWSER": "true", "HOME": str(tmp_path)}
    said = subprocess.run(
        [sys.executable, "-m", "companion"], env=environment, capture_output=True, text=True, check=True
    ).stdout
    address = re.search(r"http://\S+", said)
    assert address, said
    # A room is never wholly silent.
    noise = np.random.default_rng(0).normal(0, 8, 600 * SAMPLE_RATE).astype(np.int16)
    soundfile.write(tmp_path / "room.wav", noise, SAMPLE_RATE)
    room = sound_rig.play(tmp_path / "room.wav")
    yield home, address[0]
    room.kill()
    room.wait()
    if is_running(home):
        stop(home, print)


def done(page: Page) -> None:
    """Wait until what was pressed is done."""
    expect(page.locator("#main:not([aria-busy=true])")).to_be_attached()


MOST_STOPS = 150
REACHED = """name => {
  const one = document.activeElement;
  const label = one.labels && one.labels.length ? one.labels[0] : one;
  return label.innerText.trim() === name;
}"""


def reach(page: Page, name: str) -> None:
    """Go on by Tab until the focus is on what is called `name`."""
    for _ in range(MOST_STOPS):
        page.keyboard.press("Tab")
        if page.evaluate(REACHED, name):
            return
    raise AssertionError(f"no Tab comes to {name!r}")


def press(page: Page, name: str) -> None:
    """Press a button by keyboard, and wait until that is done."""
    expect(page.get_by_role("button", name=name, exact=True).first).to_be_visible()
    reach(page, name)
    page.keyboard.press("Enter")
    done(page)


def write(page: Page, label: str, text: str) -> None:
    """Type into a field that the keyboard reaches."""
    reach(page, label)
    page.keyboard.insert_text(text)


def unfold(page: Page, name: str) -> None:
    """Unfold a part of the page by keyboard."""
    reach(page, name)
    page.keyboard.press("Enter")


def speak(rig: SoundRig, folder: Path, text: str, pace: float = 1.0, gain: float = 0.6) -> None:
    """Say something into the microphone, with a pause after it."""
    silence: Sound = np.zeros(SAMPLE_RATE, np.int16)
    said = np.clip(gain * say(text, "flite:rms", pace), -32768, 32767).astype(np.int16)
    soundfile.write(folder / "said.wav", np.concatenate((silence[::2], said, silence)), SAMPLE_RATE)
    assert rig.play(folder / "said.wav").wait() == 0


def say_until(
    page: Page, rig: SoundRig, folder: Path, told: str, *, pace: float = 1.0, gain: float = 0.6
) -> None:
    """Say the cue until the page says what is expected: a busy machine loses sound now and then."""
    for _ in range(4):
        speak(rig, folder, "velvet compass", pace, gain)
        with contextlib.suppress(AssertionError):
            expect(page.locator("#saynow")).to_contain_text(told, timeout=3_000)
            return
    expect(page.locator("#saynow")).to_contain_text(told)


def test_from_an_empty_home_to_the_first_lesson(
    begun: tuple[Home, str],
    browser_window: BrowserContext,
    sound_rig: SoundRig,
    screen: Screen,
    tmp_path: Path,
) -> None:
    """School, microphone, cue, rehearsal, button, week, a try, the examination, the board, and a mark."""
    home, address = begun
    page = browser_window.new_page()
    page.goto(address)
    expect(page.get_by_role("heading", name="What this is")).to_be_visible()
    press(page, "I have read this: go on")
    write(page, "Your school", "Alder Lane School")
    press(page, "Save and go on")
    expect(page.get_by_role("heading", name="Microphone")).to_be_visible()
    press(page, "Listen")
    expect(page.locator("#heard")).to_contain_text("Say something", timeout=LONG_MS)
    speak(sound_rig, tmp_path, "good morning everyone please find your seat")
    expect(page.locator("#heard")).to_contain_text("Good: your voice")
    press(page, "Save and go on")
    press(page, "Save and go on")
    press(page, "Save and go on")
    expect(page.get_by_role("heading", name="Rehearsal")).to_be_visible()
    press(page, "Begin")
    expect(page.locator("#saynow")).to_contain_text("velvet compass", timeout=LONG_MS)
    say_until(page, sound_rig, tmp_path, "too loud", gain=9)
    # Without the cue nothing can be learnt.
    expect(page.get_by_role("button", name="Skip this")).to_have_count(0)
    expect(page.get_by_role("button", name="Enough of this")).to_have_count(0)
    for number in range(1, 6):
        say_until(page, sound_rig, tmp_path, f"{number} of 8: good", pace=0.85 + number / 20)
    expect(page.get_by_role("button", name="Enough of this")).to_have_count(1)
    expect(page.locator(".takes svg")).to_have_count(5)
    reach(page, "Say this one again\ntake 2")
    page.keyboard.press("Enter")
    expect(page.locator("#saynow")).to_contain_text("once more")
    say_until(page, sound_rig, tmp_path, "5 of 8: good")
    press(page, "Learn from this")
    expect(page.get_by_role("status").get_by_text("Learning")).to_be_visible()
    press(page, "Go on")
    expect(page.get_by_role("heading", name="Clicker and keys")).to_be_visible()
    press(page, "Press my button")
    expect(page.locator("#pressed")).to_contain_text("Press it now")
    screen.tap("Next", 1.0)
    expect(page.locator("#pressed")).to_contain_text("page down, held")
    expect(page.get_by_text("most computers turn many of them")).to_be_visible()
    press(page, "Take it")
    expect(page.get_by_text("It is bound, as it stands below.")).to_be_visible()
    expect(page.get_by_role("button", name="Take it")).to_have_count(0)
    press(page, "Save and go on")
    expect(page.get_by_role("heading", name="Plans")).to_be_visible()
    press(page, "Save and go on")
    unfold(page, "Paste the week from a spreadsheet")
    write(page, "A line for each period, a column for each day", WEEK)
    press(page, "Lay out the week")
    unfold(page, "The year, holidays, special days")
    reach(page, "A lesson opens")
    page.keyboard.type("when I say")
    press(page, "Save and go on")
    press(page, "Save and go on")
    expect(page.get_by_role("heading", name="Try it")).to_be_visible()
    press(page, "Begin")
    expect(page.locator("#tried")).to_contain_text("Say 3 phrases", timeout=LONG_MS)
    screen.tap("Next", 1.0)
    screen.press("key", "ctrl+alt+r")
    expect(page.locator(".tried li")).to_have_count(2)
    for phrase in ("next phase", "take it back", "line up") * 3:
        speak(sound_rig, tmp_path, f"velvet compass {phrase}")
        with contextlib.suppress(AssertionError):
            expect(page.locator("#tried")).to_contain_text("That works", timeout=2_000)
            break
    expect(page.locator("#tried")).to_contain_text("That works")
    press(page, "Go on")
    press(page, "Look")
    expect(page.locator("#verdict")).to_contain_text("can be held", timeout=LONG_MS)
    assert "can't" not in page.locator("#verdict").inner_text()
    press(page, "To the board: the set-up is done")
    expect(page.get_by_role("heading", name="Today")).to_be_visible()
    settings = load_settings(home.settings)
    assert settings.school.name == "Alder Lane School"
    assert settings.timetable is not None
    assert len(settings.timetable.timetable().entries) == 35
    # It is unfolded already on a day without lessons.
    reach(page, "Open another class")
    if not page.evaluate("document.getElementById('other').open"):
        page.keyboard.press("Enter")
    write(page, "Class group", "4-Hazel")
    press(page, "Open")
    expect(page.locator(".status .open")).to_contain_text("Listening", timeout=LONG_MS)
    screen.tap("Next", 1.0)
    expect(page.locator("#tally, .tally").first).to_contain_text("1 praise")
    page.goto(page.url.split("/live")[0] + "/running")
    press(page, "Pause listening")
    expect(page.locator("#told")).to_contain_text("paused")
    press(page, "End the companion")
    press(page, "Yes, end it")
    expect(page.locator("#told")).to_contain_text("ends now")
    assert until(lambda: not is_running(home))
