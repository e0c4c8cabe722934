"""The review in a terminal, one key a decision."""

from collections.abc import Callable
from dataclasses import dataclass

import click
from rich.console import Console

from companion.commands.shown import (
    mark_line,
    near_miss_line,
    stretch_line,
)
from companion.errors import CompanionError
from companion.lesson import review
from companion.lesson.doubts import DoubtfulMark, review_list
from companion.lesson.event import Body
from companion.lesson.mark import Kind, Mark, NearMiss
from companion.lesson.scope import scopes_of
from companion.lesson.session import Session

Append = Callable[[Session, tuple[Body, ...]], Session]
Entry = DoubtfulMark | NearMiss | Mark

MARK_KEYS = "k keep · e earlier phase · p praise · r reminder · f phase · o routine · s scope · d drop"
MISS_KEYS = "k it was a mark · d it was nothing"
ALL_KEYS = "n look later · a add a missed mark · u take back · y keep all that is left · q stop"


def review_by_keys(console: Console, session: Session, append: Append) -> Session:
    """Ask about each entry that needs a look, then about the clear ones together; return the session."""
    for stretch in session.unheard:
        console.print(stretch_line(stretch), markup=False, soft_wrap=True)
    keys = _Keys(console, append, session)
    while keys.going and (entry := keys.next_entry()) is not None:
        keys.ask(entry)
    return keys.session


@dataclass(slots=True)
class _Keys:
    console: Console
    append: Append
    session: Session
    going: bool = True
    later: frozenset[str] = frozenset()

    def next_entry(self) -> Entry | None:
        shown = review_list(self.session)
        entries: list[Entry] = [*shown.doubtful, *shown.near_misses, *shown.clear]
        return next((entry for entry in entries if _id(entry) not in self.later), None)

    def ask(self, entry: Entry) -> None:
        if isinstance(entry, NearMiss):
            self.console.print(f"\n{near_miss_line(entry)}", markup=False, soft_wrap=True)
            self.console.print(
                f"  {'; '.join(entry.reasons)}\n  {MISS_KEYS}\n  {ALL_KEYS}", markup=False, soft_wrap=True
            )
        else:
            mark = entry.mark if isinstance(entry, DoubtfulMark) else entry
            doubts = "; ".join(entry.doubts) if isinstance(entry, DoubtfulMark) else "nothing doubtful"
            self.console.print(f"\n{mark_line(mark)}", markup=False, soft_wrap=True)
            self.console.print(f"  {doubts}\n  {MARK_KEYS}\n  {ALL_KEYS}", markup=False, soft_wrap=True)
        try:
            key = click.getchar().lower()
        except (EOFError, KeyboardInterrupt):
            key = "q"
        try:
            self._press(key, entry)
        except CompanionError as error:
            self.console.print(str(error), markup=False, soft_wrap=True)

    def _press(self, key: str, entry: Entry) -> None:
        match key:
            case "q":
                self.going = False
            case "n":
                self.later |= {_id(entry)}
            case "u":
                self._take_back()
            case "y":
                self._record(review.keep_all(self.session))
            case "a":
                self._add()
            case _ if isinstance(entry, NearMiss):
                self._answer(key, entry)
            case _:
                self._decide(key, entry)

    def _record(self, bodies: tuple[Body, ...]) -> None:
        self.session = self.append(self.session, bodies)

    def _take_back(self) -> None:
        if not self.session.steps:
            self.console.print("There is nothing to take back.")
        self._record(review.undo(self.session))

    def _answer(self, key: str, miss: NearMiss) -> None:
        if key == "k" and miss.kind is not None:
            self._record(review.confirm(self.session, (miss.id,)))
        elif key == "d":
            self._record(review.dismiss(self.session, (miss.id,)))

    def _decide(self, key: str, entry: DoubtfulMark | Mark) -> None:
        mark = entry.mark if isinstance(entry, DoubtfulMark) else entry
        session = self.session
        match key:
            case "k" | "\r" | "\n":
                self._record(review.keep(session, (mark.id,)))
            case "d":
                self._record(review.drop(session, (mark.id,)))
            case "p":
                self._record(review.change(session, mark.id, kind=Kind.PRAISE))
            case "r":
                self._record(review.change(session, mark.id, kind=Kind.REMINDER))
            case "e" if isinstance(entry, DoubtfulMark) and entry.earlier_phase is not None:
                self._record(review.earlier(session, (mark.id,)))
            case "f":
                self._record(review.change(session, mark.id, phase=self._phase()))
            case "o":
                self._record(review.change(session, mark.id, routine=self._routine(mark.phase)))
            case "s":
                self._record(review.change(session, mark.id, scope=self._scope()))

    def _add(self) -> None:
        kind = Kind.REMINDER if self._pick("What was missed?", list(Kind)) == Kind.REMINDER else Kind.PRAISE
        phase = self._phase()
        self._record(review.add(kind, phase, routine=self._routine(phase)))

    def _phase(self) -> str:
        return self._pick("In which phase?", list(self.session.phase_names))

    def _routine(self, phase_name: str) -> str:
        phase = self.session.plan.phase(phase_name)
        routines = list(phase.routines) if phase else []
        picked = self._pick("For which routine?", [*routines, "none"])
        return "" if picked == "none" else picked

    def _scope(self) -> str:
        return self._pick("For whom?", list(scopes_of(self.session)))

    def _pick(self, question: str, choices: list[str]) -> str:
        """Ask for one of `choices` by its letter; any other key takes the first."""
        letters = "abcdefghijklmnopqrstuvwxyz"
        listed = " · ".join(f"{letter} {choice}" for letter, choice in zip(letters, choices, strict=False))
        self.console.print(f"  {question} {listed}", markup=False, soft_wrap=True)
        index = letters.find(click.getchar().lower())
        return choices[index] if 0 <= index < len(choices) else choices[0]


def _id(entry: Entry) -> str:
    return entry.mark.id if isinstance(entry, DoubtfulMark) else entry.id
