"""A lesson of the week, as it is held: what is said, pressed and clicked when, and what goes wrong."""

import os
import random
from collections.abc import Callable
from functools import partial
from signal import SIGKILL

import numpy as np

from companion.lesson.mark import Kind, Source
from companion.lesson.timetable import Lesson
from companion.listening.microphone.trouble import Trouble
from companion.listening.sound import SAMPLE_RATE
from companion.live.state import Listening
from tests.week.browser import Browser
from tests.week.clips import AFTER_S, Clip, clips
from tests.week.room import BLOCK, OPENS_WITHIN_S, Room
from tests.week.truth import Asked, Truth

FAULTS = ("none", "log locked", "microphone gone", "restart", "ear killed")
SLOT_S = 45
ARRIVAL_S = 300
CHANGES = {"set up": 780, "work time": 1080, "cleanup": 2100, "line up": 2460}
"""When about each phase begins that the clock does not begin."""
FAULT_S, END_S = 1530, 2640
SAYING_S = 1.0
"""A key that is pressed so long after a phrase began comes before that phrase is decided."""
AWAY_S = 20
KEYS: dict[Kind, tuple[tuple[str, tuple[float, ...]], ...]] = {
    Kind.PRAISE: (("f9", (0.1,)), ("page_down", (0.9,))),
    Kind.REMINDER: (("f10", (0.1,)), ("page_up", (0.08, 0.08))),
}
"""The gestures of each kind: keys, and how long they are held each time."""


class HeldLesson:
    """One lesson that is going on, and its truth."""

    def __init__(self, room: Room, browser: Browser, lesson: Lesson, number: int) -> None:
        """Begin at the moment when the timetable has opened it."""
        self._room = room
        self._browser = browser
        self._lesson = lesson
        self._chance = random.Random(number)
        self._noise = np.random.default_rng(number)
        session, zero_s = room.live.state.session, room.live.state.zero_s
        assert session is not None, f"{lesson.class_group} was not opened"
        assert session.class_group == lesson.class_group
        phases = [(0, "arrival"), (ARRIVAL_S * 1000, "instruction")]
        self.truth = Truth(session.id, session.class_group, zero_s, phases)
        self.helped = 0
        """How often a phase had to be put right by hand, since a phrase was not heard or a false one was."""

    def hold(self, fault: str, marks: int, *, then: Callable[[], None], runs_over: bool) -> None:
        """Hold it to its end. marks: how many of each way. then: done in a quiet moment near its beginning.

        runs_over: its last phrase is said so late that it is decided in the next class's lesson.
        """
        moments = self._moments(fault, marks)
        moments.append((ARRIVAL_S - 30, then))
        for at_s, act in sorted(moments, key=lambda moment: moment[0]):
            self._room.go_to(self.truth.zero_s + at_s)
            act()
            self._put_right()
        if runs_over:
            self._say_at_the_end()
        self._room.go_to(self._lesson.ends)

    def _moments(self, fault: str, marks: int) -> list[tuple[float, Callable[[], None]]]:
        taken = [ARRIVAL_S, FAULT_S, FAULT_S + SLOT_S, *CHANGES.values()]
        free = [at for at in range(30, END_S, SLOT_S) if all(abs(at - other) > SLOT_S for other in taken)]
        self._chance.shuffle(free)
        acts: list[Callable[[], None]] = [self._say, self._press, self._click] * marks
        acts += [self._talk, self._press_and_take_back, self._note]
        moments: list[tuple[float, Callable[[], None]]] = list(zip(free, acts, strict=False))
        for name, about_s in CHANGES.items():
            way = self._chance.choice(
                (self._say_phase, self._press_phase, self._click_phase, self._press_in_speech)
            )
            moments.append((about_s + self._chance.uniform(-15, 15), partial(way, name)))
        moments.append(
            (FAULT_S, {name: getattr(self, f"_{name.replace(' ', '_')}") for name in FAULTS}[fault])
        )
        return moments

    def _asked(self, way: Source, kind: Kind, at_s: float, phrase: str = "", *, deaf: bool = False) -> Asked:
        at_ms = self.truth.ms(at_s)
        asked = Asked(way, kind, at_ms, self.truth.phase_at(at_ms), phrase, deaf)
        self.truth.marks.append(asked)
        return asked

    def _begins(self, phase: str, at_s: float) -> None:
        self.truth.phases.append((self.truth.ms(at_s), phase))

    def _mark_clip(self) -> Clip:
        return clips().mixed(self._chance.choice(clips().marks), self._noise)

    def _say(self, *, deaf: bool = False) -> None:
        clip = self._mark_clip()
        began_s = self._room.hear(clip.sound) + clip.begin_s
        self._asked(Source.VOICE, Kind(clip.kind), began_s, clip.phrase, deaf=deaf)

    def _talk(self) -> None:
        self._room.hear(clips().mixed(self._chance.choice(clips().talk), self._noise).sound)

    def _press(self) -> None:
        kind = self._chance.choice(list(Kind))
        self._asked(Source.KEY, kind, self._room.clock.steady_s())
        key, holds = self._chance.choice(KEYS[kind])
        for done in self._room.press(key, *holds):
            done.result()

    def _click(self) -> None:
        kind = self._chance.choice(list(Kind))
        self._asked(Source.PAGE, kind, self._room.clock.steady_s())
        self._browser.press(f"live/{self.truth.session}", do=kind)

    def _press_and_take_back(self) -> None:
        self._press()
        self._room.go_to(self._room.clock.steady_s() + 4)
        self._browser.press(f"live/{self.truth.session}", do="undo")
        self.truth.marks[-1].undone = True

    def _note(self) -> None:
        self._browser.press(f"live/{self.truth.session}", do="note")

    def _say_phase(self, name: str) -> None:
        clip = clips().mixed(clips().phases[name], self._noise)
        began_s = self._room.hear(clip.sound) + clip.begin_s
        if self._phase == name:
            self._begins(name, began_s)
        else:
            self._click_phase(name)
            self.helped += 1

    def _press_phase(self, name: str) -> None:
        self._begins(name, self._room.clock.steady_s())
        for done in self._room.press("f7", 0.1):
            done.result()

    def _click_phase(self, name: str) -> None:
        self._begins(name, self._room.clock.steady_s())
        self._browser.press(f"live/{self.truth.session}", do="phase", item=name)

    def _press_in_speech(self, name: str) -> None:
        """Go on to the next phase while a phrase is being said: its mark belongs to the phase before."""
        clip = self._mark_clip()
        in_block = round((clip.begin_s + SAYING_S) * SAMPLE_RATE / BLOCK)
        before = self._phase
        began_s = self._room.hear(clip.sound, {in_block: partial(self._press_phase, name)}) + clip.begin_s
        self._asked(Source.VOICE, Kind(clip.kind), began_s, clip.phrase)
        assert self.truth.marks[-1].phase == before

    def _say_at_the_end(self) -> None:
        """Say a phrase just before the next class's lesson begins."""
        clip = self._mark_clip()
        sound = clip.sound[: round((clip.end_s + AFTER_S / 4) * SAMPLE_RATE)]
        ends_s = self._room.clock.at_s(self._lesson.ends)
        self._room.go_to(ends_s - len(sound) / SAMPLE_RATE)
        began_s = self._room.clock.steady_s()
        self._asked(Source.VOICE, Kind(clip.kind), began_s + clip.begin_s, clip.phrase)
        spotter = self._room.spotter
        self._room.hear_without_waiting(sound)
        self._room.clock.set_s(ends_s + OPENS_WITHIN_S)
        self._room.tick()
        self._room.finish(spotter)

    def _none(self) -> None:
        """Nothing goes wrong."""

    def _log_locked(self) -> None:
        with self._room.log_locked():
            for act in (self._press, self._say, self._click):
                act()
                self._room.go_to(self._room.clock.steady_s() + 5)
        self._room.go_to(self._room.clock.steady_s() + 1)

    def _microphone_gone(self) -> None:
        microphone = self._room.microphone
        assert microphone is not None
        microphone.have(Trouble.GONE, self._room.clock.steady_s())
        self._say(deaf=True)
        self._press()
        microphone.have(None, self._room.clock.steady_s())

    def _restart(self) -> None:
        self._room.stop()
        self._room.clock.set_s(self._room.clock.steady_s() + AWAY_S)
        self._room.start()
        self._press()

    def _ear_killed(self) -> None:
        spotter = self._room.spotter
        assert spotter is not None
        os.kill(spotter.inner.pid, SIGKILL)
        self._say(deaf=True)
        self._press()
        self._room.go_to(self._room.clock.steady_s() + SLOT_S)
        self._say()

    @property
    def _phase(self) -> str:
        session = self._room.live.state.session
        return session.phase.name if session and session.phase else ""

    def _put_right(self) -> None:
        """Look at the page, as a teacher does: what a false phrase has changed is changed back."""
        state = self._room.live.state
        if state.listening is Listening.PAUSED:
            self._browser.press(f"live/{self.truth.session}", do="resume")
            self.helped += 1
        true = self.truth.phase_at(self.truth.ms(self._room.clock.steady_s()))
        if self._phase != true:
            self._browser.press(f"live/{self.truth.session}", do="phase", item=true)
            self.helped += 1
