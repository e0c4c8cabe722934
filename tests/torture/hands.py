"""The ways in which marks come, each by the real way in: control line, page, key, voice."""

import random
import re
import subprocess
import time
from contextlib import suppress
from pathlib import Path
from typing import Protocol

import httpx
from ulid import ULID
from Xlib import XK, X, display
from Xlib.ext import xtest

from companion.background.control import NotRunningError
from companion.errors import CompanionError
from companion.lesson.mark import Source
from tests.rig_sound import SoundRig
from tests.torture.ledger import Ledger
from tests.torture.victim import Victim

KEYS = {"praise": "F9", "reminder": "F10"}
SHOWN_WITHIN_S, LOOK_S = 1.0, 0.02
HEARD_WITHIN_S = 20.0
"""From the end of a phrase: its recogniser may just be starting."""


class Hand(Protocol):
    """One way in; `mark` returns when its mark is confirmed, or is not."""

    def mark(self, victim: Victim, session: str, kind: str) -> None:
        """Ask for a mark of `kind` in `session`, and note what became of it."""
        ...


class ControlLine:
    """As `companion mark` does."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger

    def mark(self, victim: Victim, session: str, kind: str) -> None:  # noqa: ARG002
        """Ask for it; the answer names its event."""
        self._ledger.asked[Source.COMMAND_LINE] += 1
        with suppress(CompanionError):
            told = victim.ask(do="command", action=kind)
            self._ledger.confirmed[Source.COMMAND_LINE] += 1
            self._ledger.events.append((told["session"], told["seq"]))


class Browser:
    """A page that stays open: its forms carry the id of a wish, and an unanswered one is sent again."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._client = httpx.Client(trust_env=False, timeout=20)
        self._token = ""
        self._unanswered: dict[str, str] | None = None
        self._where = ""

    def mark(self, victim: Victim, session: str, kind: str) -> None:
        """Press the button; it is in the log when the page that follows says of nothing that it waits."""
        self._ledger.asked[Source.PAGE] += 1
        self._where, self._unanswered = f"live/{session}", {"request": str(ULID()), "do": kind}
        self.again(victim)

    def again(self, victim: Victim) -> None:
        """Send the wish that was not answered."""
        if self._unanswered is None:
            return
        with suppress(httpx.HTTPError, CompanionError):
            answer = self._send(victim)
            if answer.status_code == 403:
                self._open(victim)
                answer = self._send(victim)
            if answer.status_code == 303 and self._shows_it_written(answer):
                self._ledger.confirmed[Source.PAGE] += 1
                self._ledger.wishes.append(self._unanswered["request"])
            assert answer.status_code in {303, 409}, answer.text
            self._unanswered = None

    def _shows_it_written(self, answer: httpx.Response) -> bool:
        assert answer.next_request is not None
        page = self._client.send(answer.next_request)
        return page.status_code == 200 and "in memory, to be written" not in page.text

    def _send(self, victim: Victim) -> httpx.Response:
        if not self._token:
            self._open(victim)
        here = {"Sec-Fetch-Site": "same-origin"}
        return self._client.post(f"{self._where}?page={self._token}", data=self._unanswered, headers=here)

    def _open(self, victim: Victim) -> None:
        """Open the pages as `companion pages --open` does."""
        place = victim.ask(do="pages", to="/")["address"]
        first = self._client.get(place, follow_redirects=True)
        self._client.base_url = first.url
        found = re.search(r"\?page=(\w+)", first.text)
        self._token = found[1] if found else ""

    def close(self) -> None:
        """Close it."""
        self._client.close()


class Keyboard:
    """Keys of a real screen; a mark counts as confirmed when the companion shows it."""

    def __init__(self, ledger: Ledger, screen: str) -> None:
        self._ledger = ledger
        self._display = display.Display(screen)

    def mark(self, victim: Victim, session: str, kind: str) -> None:  # noqa: ARG002
        """Tap the key of `kind`, and look whether its mark is shown."""
        with suppress(CompanionError):
            before = count(victim)
            self._ledger.asked[Source.KEY] += 1
            self._tap(KEYS[kind])
            if shown(victim, before, SHOWN_WITHIN_S):
                self._ledger.confirmed[Source.KEY] += 1

    def _tap(self, name: str) -> None:
        code = self._display.keysym_to_keycode(XK.string_to_keysym(name))
        for what in (X.KeyPress, X.KeyRelease):
            xtest.fake_input(self._display, what, code)
        self._display.sync()

    def close(self) -> None:
        """Let go of the screen."""
        self._display.close()


class Voice:
    """The teacher of a sample, played into a microphone."""

    def __init__(self, ledger: Ledger, rig: SoundRig, phrases: dict[str, list[Path]], seed: int) -> None:
        """phrases: sounds of each kind of mark."""
        self._ledger = ledger
        self._rig = rig
        self._phrases = phrases
        self._chance = random.Random(seed)

    def begin(self, kind: str) -> subprocess.Popen[bytes]:
        """Begin to say a phrase of `kind`."""
        self._ledger.asked[Source.VOICE] += 1
        return self._rig.play(self._chance.choice(self._phrases[kind]))

    def mark(self, victim: Victim, session: str, kind: str) -> None:  # noqa: ARG002
        """Say a phrase, and look whether its mark is shown."""
        with suppress(CompanionError):
            before = count(victim)
            self.begin(kind).wait()
            if shown(victim, before, HEARD_WITHIN_S):
                self._ledger.confirmed[Source.VOICE] += 1
                self._ledger.seen["phrases heard"] += 1
            else:
                self._ledger.seen["phrases not heard"] += 1


def shown(victim: Victim, before: int, limit_s: float) -> bool:
    """Wait until more than `before` marks stand, and nothing waits for the log.

    Raises NotRunningError if the companion is gone meanwhile.
    """
    end_s = time.monotonic() + limit_s
    while time.monotonic() < end_s:
        try:
            if count(victim) > before:
                return True
        except NotRunningError:
            raise
        except CompanionError:
            # Steps wait for the log: nothing of them is confirmed.
            pass
        time.sleep(LOOK_S)
    return False


def count(victim: Victim) -> int:
    """Return how many marks stand. Raises CompanionError while steps wait for the log."""
    told = victim.look()
    return int(told["praise"]) + int(told["reminder"])
