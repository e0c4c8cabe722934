"""Lives of the real companion: marks by every way in, faults of disk and clock, and a kill in their midst."""

import random
import shutil
import sqlite3
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, closing, contextmanager, nullcontext, suppress
from datetime import timedelta
from signal import SIGKILL

import psutil

from companion.errors import CompanionError
from companion.paths import Home
from tests.rig import open_screen
from tests.rig_sound import open_sound_rig
from tests.torture.faults import Fault, Faults
from tests.torture.hands import Browser, ControlLine, Hand, Keyboard, Voice
from tests.torture.ledger import MUST_BE_NONE, Ledger
from tests.torture.place import Place
from tests.torture.settings import SETTINGS, SILENT, write_phrases
from tests.torture.victim import Victim, left_behind
from tests.torture.zygote import Zygote
from tests.waiting import until

LIVES_OF_A_HOME = 100
"""After so many a new home begins, so that looking a log through at each start does not outgrow the rest."""
LIVES_OF_A_CLASS = 20
MOST_STEPS = 6
KILLED_WITHIN_S = 0.06
"""The kill comes at a random moment so long after the last step was asked for."""
KILLED_AT_START, UP_S = 0.1, 0.4
"""The share of lives that are killed while they begin, and how long that takes about."""
STAGES = {"a step": 0.88, "a close": 0.06, "an end": 0.06}
"""In the midst of what the others are killed, and how often."""
AIMED, LAST_AIMED, AIMED_WITHIN_S = 0.5, 40, 0.5
"""The share of kills that come at a step of writing the log; the last such step, and its limit."""
ENDED_IN_PEACE = 0.05
CLOSED_BEFORE = 0.5
"""The share of these in which the lesson is ended first: then a backup is made, too."""
LAST_LINES = 30
"""So much of the program's own log is told where something is as it must not be."""
FAULTY, FAULTY_AT_START = 0.4, 0.2
"""The share of lives in which something is wrong, and of those in which it is wrong from the start."""
FAULT_S = 0.25
OTHER_CLOCK = 0.15
AHEAD = tuple(timedelta(minutes=ahead) for ahead in (0, 0, 5, -5, 70, -70, 200, -200, 1500, -1500))
LISTENING_EVERY, LISTENING_FIRST = 100, 2
"""One life in so many listens, in a Python of its own."""


class Torture:
    """Companions on one home after the other, killed again and again, and what they have confirmed."""

    def __init__(
        self,
        place: Place,
        seed: int,
        told: Callable[[str], None] = lambda _: None,
        *,
        in_peace: float = ENDED_IN_PEACE,
    ) -> None:
        """told: called with each home's figures, and with what must not be. in_peace: share of lives."""
        self.notes: list[str] = []
        """What must not be, with what the companion had said."""
        self._place = place
        self._in_peace = in_peace
        self._chance = random.Random(seed)
        self._told = told
        self._faults: Faults
        self._victim: Victim
        self._ledger: Ledger
        self._hands: list[Hand]
        self._browser: Browser
        self._voice: Voice
        self._zygote: Zygote

    def run(self, kills: int) -> Counter[str]:
        """Kill so often; return the figures of all homes together."""
        found: Counter[str] = Counter()
        with ExitStack() as parts:
            rig = parts.enter_context(open_sound_rig())
            screen = parts.enter_context(open_screen())
            self._faults = Faults(self._place.beside, self._place.folder)
            environment = {**self._faults.environment, "DISPLAY": screen.display}
            self._zygote = Zygote(environment)
            parts.callback(self._zygote.end)
            phrases = write_phrases(self._place.beside)
            for first in range(0, kills, LIVES_OF_A_HOME):
                with ExitStack() as of_home:
                    home = Home(self._place.folder / f"home-{first}").create()
                    self._ledger = Ledger()
                    self._victim = Victim(home, self._zygote, environment, self._place.beside / "words.txt")
                    keyboard = Keyboard(self._ledger, screen.display)
                    of_home.callback(keyboard.close)
                    self._browser = Browser(self._ledger)
                    of_home.callback(self._browser.close)
                    self._hands = [ControlLine(self._ledger), self._browser, keyboard]
                    self._voice = Voice(self._ledger, rig, phrases, first)
                    for life in range(first, min(first + LIVES_OF_A_HOME, kills)):
                        self._live(life)
                    found += self._last_life()
                    self._told(", ".join(f"{what} {number}" for what, number in sorted(found.items())))
        return found

    def _live(self, life: int) -> None:
        """Begin the companion, ask for marks, and kill it in the midst of the last."""
        listening = life % LISTENING_EVERY == LISTENING_FIRST
        self._victim.home.settings.write_text(SETTINGS if listening else SILENT, encoding="utf-8")
        if self._chance.random() < OTHER_CLOCK:
            self._faults.set_clock(self._chance.choice(AHEAD))
        if not self._begins(listens=listening):
            return
        try:
            self._browser.again(self._victim)
            session = self._session(life)
            if listening:
                self._listen(session)
            else:
                self._ask_for_marks(session)
        except CompanionError as refused:
            self._ledger.seen[f"refused: {refused.what}"] += 1
        if self._victim.lives:
            self._kill("a refusal")

    def _begins(self, *, listens: bool) -> bool:
        """Begin it; return False where it was killed at that."""
        fault = self._chance.choice(list(Fault)) if self._chance.random() < FAULTY_AT_START else Fault.NONE
        at_start = not listens and self._chance.random() < KILLED_AT_START
        wrong = self._faults.during(fault)
        # What can never be read is set aside, and rightly; what can't be read for a moment is not.
        with self._for_a_moment(wrong) if fault is Fault.READ_ERROR else wrong:
            self._victim.begin(listens=listens)
            if at_start:
                until(lambda: not self._victim.lives, self._aim(UP_S, UP_S))
                self._ledger.seen["refused to begin"] += self._kill("a start") >= 0
                return False
            up = self._victim.comes_up()
        if up:
            return True
        # A disk that lets nobody write lets no companion begin; it says so, and begins when it may.
        self._ledger.seen["refused to begin"] += 1
        status = self._victim.wait()
        self._look_at_words()
        if not fault or status <= 0 or not self._victim.words:
            self._note("failed starts", why=f"status {status}")
        return self._begins(listens=listens)

    def _session(self, life: int) -> str:
        """Return the session that is open, of another class now and then, its microphone as it should be."""
        if life % LIVES_OF_A_CLASS or self._victim.listens:
            with suppress(CompanionError):
                return str(self._victim.look()["session"])
        told = self._victim.ask(do="open", class_group=f"{life}-Hazel", plan=None, room="")
        self._victim.look()
        return str(told["session"])

    def _ask_for_marks(self, session: str) -> None:
        chosen = self._chance.choices(
            [*self._hands, None], (3, 3, 3, 1), k=self._chance.randint(1, MOST_STEPS)
        )
        fault = self._chance.choice(self._wrongs()) if self._chance.random() < FAULTY else nullcontext()
        with fault:
            for hand in chosen[:-1]:
                self._step(hand, session)
            if self._chance.random() < self._in_peace:
                if self._chance.random() < CLOSED_BEFORE:
                    with suppress(CompanionError):
                        self._victim.ask(do="close")
                self._end_in_peace()
                return
            self._die(chosen[-1], session)

    def _die(self, hand: Hand | None, session: str) -> None:
        """Kill it in the midst of a step, of closing the lesson, or of ending."""
        (stage,) = self._chance.choices(list(STAGES), list(STAGES.values()))
        limit_s = self._aim(UP_S if stage == "an end" else KILLED_WITHIN_S, AIMED_WITHIN_S)
        kill = threading.Timer(limit_s, self._victim.kill)
        kill.start()
        if stage == "a close":
            with suppress(CompanionError):
                self._victim.ask(do="close")
        elif stage == "an end":
            self._victim.ask_to_end()
            until(lambda: not self._victim.lives, limit_s)
        else:
            self._step(hand, session)
        if limit_s == AIMED_WITHIN_S:
            # It has done what it was asked for with fewer steps of writing.
            kill.cancel()
        kill.join()
        status = self._kill(stage)
        if status >= 0:
            self._ended(status)

    def _aim(self, random_s: float, aimed_s: float) -> float:
        """Let a kill come at a step of writing the log, or at random; return its limit, in seconds."""
        aimed = self._chance.random() < AIMED
        self._faults.kill_at(self._chance.randint(1, LAST_AIMED) if aimed else 0)
        return aimed_s if aimed else self._chance.uniform(0, random_s)

    def _step(self, hand: Hand | None, session: str) -> None:
        kind = self._chance.choice(("praise", "reminder"))
        if hand is not None:
            hand.mark(self._victim, session, kind)
            return
        with suppress(CompanionError):
            self._victim.ask(do="command", action=self._chance.choice(("next phase", "undo")))

    def _listen(self, session: str) -> None:
        """Say phrases to a companion whose children are killed, and kill it in the midst of the last."""
        until(self._hears)
        self._voice.mark(self._victim, session, "praise")
        for child in self._chance.sample(children := self._victim.children, k=len(children) // 2):
            with suppress(psutil.NoSuchProcess):
                child.send_signal(SIGKILL)
                self._ledger.seen["children killed"] += 1
        # Of one kind within two seconds, voice and hand would mean one mark.
        self._hands[0].mark(self._victim, session, "reminder")
        self._voice.mark(self._victim, session, "praise")
        saying = self._voice.begin("reminder")
        time.sleep(self._chance.uniform(0, 4))
        children = self._victim.children
        self._kill("a phrase")
        if left := left_behind(children):
            self._note("children left behind", len(left), why="; ".join(left))
        saying.wait()

    def _hears(self) -> bool:
        return str(self._victim.ask(do="status")["microphone"]).startswith("open, level")

    def _wrongs(self) -> list[AbstractContextManager[None]]:
        faults = [self._for_a_moment(self._faults.during(fault)) for fault in list(Fault)[1:]]
        full = [self._for_a_moment(self._place.full())] * 2 if self._place.small else []
        return [*faults, *full, self._for_a_moment(self._locked()), self._clock_jumps()]

    @contextmanager
    def _for_a_moment(self, wrong: AbstractContextManager[None]) -> Iterator[None]:
        """Let something be wrong while the block begins; it may be over before the block is."""
        self._ledger.seen["faults"] += 1

        def be_wrong() -> None:
            with wrong:
                over.wait(FAULT_S)

        over = threading.Event()
        thread = threading.Thread(target=be_wrong)
        thread.start()
        try:
            yield
        finally:
            over.set()
            thread.join()

    @contextmanager
    def _locked(self) -> Iterator[None]:
        """Hold the log, as another program does that writes."""
        with closing(sqlite3.connect(self._victim.home.log, isolation_level=None, timeout=1)) as db:
            with suppress(sqlite3.OperationalError):
                db.execute("BEGIN IMMEDIATE")
            yield

    @contextmanager
    def _clock_jumps(self) -> Iterator[None]:
        self._ledger.seen["clock jumps"] += 1
        self._faults.set_clock(self._chance.choice(AHEAD))
        yield

    def _kill(self, stage: str) -> int:
        """Kill it, unless it is dead already; note in the midst of what, and return its exit status."""
        self._victim.kill()
        status = self._victim.wait()
        self._look_at_words()
        if status == -SIGKILL:
            self._ledger.seen["kills"] += 1
            self._ledger.seen[f"kills in {stage}"] += 1
            self._ledger.seen["kills in a write"] += self._faults.unsynced
        elif status < 0:
            self._note("crashes", why=f"signal {-status} in {stage}")
        self._faults.kill_at(0)
        return status

    def _end_in_peace(self) -> None:
        self._ended(self._victim.end())

    def _ended(self, status: int) -> None:
        self._ledger.seen["ends in peace"] += 1
        if status != 0:
            self._note("failed ends", why=f"status {status}")
        self._look_at_words()

    def _last_life(self) -> Counter[str]:
        """Let the companion take up what waits, end in peace, and return the figures of its home."""
        self._faults.set_clock(timedelta(0))
        self._victim.home.settings.write_text(SILENT, encoding="utf-8")
        self._victim.begin()
        assert self._victim.comes_up(), self._victim.words
        self._browser.again(self._victim)
        self._end_in_peace()
        found = self._ledger.check(self._victim.home)
        if any(found[what] for what in MUST_BE_NONE):
            kept = tempfile.mkdtemp(prefix="tortured-")
            shutil.copytree(self._victim.home.folder, kept, dirs_exist_ok=True)
            self._told(f"kept in {kept}; marks confirmed: {self._ledger.events}, {self._ledger.wishes}")
        return found

    def _look_at_words(self) -> None:
        if "Traceback" in self._victim.words:
            self._note("tracebacks")

    def _note(self, what: str, number: int = 1, why: str = "") -> None:
        """Note what must not be, and say at once how it came."""
        self._ledger.seen[what] += number
        own_log = self._victim.home.run / "companion.log"
        last = own_log.read_text(errors="replace").splitlines()[-LAST_LINES:] if own_log.exists() else []
        self.notes.append("\n".join([f"{what}: {why}", self._victim.words[-5000:], *last]))
        self._told(self.notes[-1])
