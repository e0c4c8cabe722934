"""What a teacher does after a lesson, on the pages: review, reflection, notes; and what then stands where."""

from collections import Counter
from datetime import timedelta

from companion.lesson.counting import count_words
from companion.lesson.event import CarryOverSaid
from companion.lesson.mark import Kind, MarkState, Source
from companion.lesson.session import Session
from companion.log.store import open_log
from tests.week.browser import Browser
from tests.week.room import Room
from tests.week.truth import Matched, Truth, match

CHILD = "K. T."
LEVELS = (("Full bloom", 5), ("In bud", 2), ("Sprouting", 0))
"""What the settings of the week say of the margin, in the rig's own words."""


class Afterwards:
    """The teacher's work after lessons, and the figures of what was found in the log."""

    def __init__(self, room: Room, browser: Browser) -> None:
        self._room = room
        self._browser = browser
        self.figures: Counter[str] = Counter()
        self.troubles: list[str] = []
        """What must not be, in words."""
        self._carried: dict[str, Truth] = {}
        """The lesson whose carry-over waits, by class group."""

    def say_carry_over(self, truth: Truth) -> None:
        """Say to a class that has come what was left unsaid, if the page shows it."""
        before = self._carried.pop(truth.class_group, None)
        if before is None:
            return
        self._expect(
            before.carry_over in self._browser.read(f"live/{truth.session}"), "carry-over shown", truth
        )
        self._browser.press(f"live/{truth.session}", do="said", item=before.session)
        with open_log(self._room.home.log) as log:
            said = [
                event.body for event in log.events(truth.session) if isinstance(event.body, CarryOverSaid)
            ]
        self._expect([body.origin for body in said] == [before.session], "carry-over said", truth)

    def work(self, truth: Truth) -> None:
        """Review a lesson that is over, settle it, and look at its note."""
        before = self._session(truth)
        matched = match(truth, before)
        self._count(truth, before, matched)
        self._review(truth, matched)
        self._settle(truth)
        self._look_at_note(truth)

    def _count(self, truth: Truth, session: Session, matched: Matched) -> None:
        said = [mark for mark in truth.marks if mark.way is Source.VOICE]
        silent = [mark for mark in matched.missing if mark.way is Source.VOICE]
        handed = [mark for mark in matched.missing if mark.way is not Source.VOICE]
        near = [mark for mark, _ in matched.near]
        self.figures += Counter(
            {
                "said": len(said),
                "heard": len(said) - len(silent),
                "near": len(near),
                "deaf": sum(mark.deaf for mark in silent if mark not in near),
                "missed": sum(not mark.deaf for mark in silent if mark not in near),
                "keys": sum(mark.way is Source.KEY for mark in truth.marks),
                "clicks": sum(mark.way is Source.PAGE for mark in truth.marks),
                "false": sum(mark.source is Source.VOICE for mark in matched.false),
                "wrong phase": len(matched.wrong_phase),
                "lessons": 1,
            }
        )
        for asked, mark in matched.wrong_phase:
            self.troubles.append(
                f"{truth.class_group}: {asked.kind} by {asked.way} at {asked.at_ms} ms in {asked.phase}, "
                f"in the log at {mark.at_ms} ms in {mark.stamped_phase}; phases {truth.phases}"
            )
        for lost in handed:
            self._expect(False, f"not in the log: {lost}", truth)
        for extra in matched.false:
            self._expect(extra.source is Source.VOICE, f"by no hand: {extra}", truth)
        self._expect(session.closed, "closed", truth)

    def _review(self, truth: Truth, matched: Matched) -> None:
        page = f"review/{truth.session}"
        for mark in matched.false:
            if mark.state is not MarkState.UNDONE:
                self._browser.press(page, do="drop", item=mark.id)
        for asked, miss in matched.near:
            self._browser.press(page, do="confirm", item=miss.id, kind=asked.kind)
        near = [asked for asked, _ in matched.near]
        for asked in matched.missing:
            if asked not in near and not asked.undone:
                self._browser.press(
                    page, do="add", kind=asked.kind, phase=asked.phase, why="my hands were full"
                )
        for asked, mark in matched.wrong_phase:
            if not asked.undone:
                changed = {"kind": mark.kind, "scope": mark.scope, "routine": mark.routine or ""}
                self._browser.press(page, do="change", item=mark.id, phase=asked.phase, **changed)
        for mark in self._session(truth).unreviewed:
            self._browser.press(page, do="keep", item=mark.id)

    def _settle(self, truth: Truth) -> None:
        day = f"{self._room.clock.wall():%d %B}"
        truth.carry_over = f"Show the tools once more before work time, as on {day} at {truth.class_group}."
        truth.view = f"The watering went well on {day}."
        truth.note_line = f"a splinter on {day}"
        (note,) = self._session(truth).notes
        due = (self._room.clock.wall() + timedelta(days=2)).date()
        contact = {"by": "the teacher", "how": "phone", "due": due.isoformat()}
        self._browser.press(
            f"private/{truth.session}",
            do="complete", item=note.id, child=CHILD, kind=note.kind, line=truth.note_line, **contact,
        )  # fmt: skip
        self._browser.press(f"reflection/{truth.session}", do="rate", rating="went well")
        teacher = f"reflection/{truth.session}/teacher"
        self._browser.press(teacher, do="view", text=truth.view)
        self._browser.press(teacher, do="carry-over", text=truth.carry_over)
        self._browser.press(f"reflection/{truth.session}", do="settle")
        self._carried[truth.class_group] = truth

    def _look_at_note(self, truth: Truth) -> None:
        """Hold what stands in log and note against the truth."""
        session = self._session(truth)
        stands = Counter((mark.kind, mark.phase) for mark in session.standing)
        self._expect(session.settled, "settled", truth)
        self._expect(stands == truth.counts(), f"on the note {stands}, in truth {truth.counts()}", truth)
        plain = self._browser.read(f"note/{truth.session}/plain")
        kinds = Counter(asked.kind for asked in truth.standing)
        words = count_words(kinds[Kind.PRAISE], kinds[Kind.REMINDER])
        margin = kinds[Kind.PRAISE] - kinds[Kind.REMINDER]
        reached = next((name for name, least in LEVELS if margin >= least), "none today")
        for what in (words, reached, truth.note_line, CHILD, truth.class_group):
            self._expect(what in plain, f"'{what}' on the note", truth)
        self._expect(session.carry_over == truth.carry_over, "carry-over kept", truth)
        self._expect(session.teacher_view == truth.view, "view kept", truth)
        self._browser.press(f"note/{truth.session}", do="printed")
        self.figures["typed"] += 4

    def _expect(self, holds: bool, what: str, truth: Truth) -> None:
        if not holds:
            self.figures["lost"] += 1
            self.troubles.append(f"{truth.class_group}, {truth.session}: {what}")

    def _session(self, truth: Truth) -> Session:
        with open_log(self._room.home.log) as log:
            return log.session(truth.session)
