"""The review in a terminal, one key a decision."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from string import ascii_lowercase

import click
from rich.console import Console

from companion.commands.shown import (
    mark_line,
    near_miss_line,
    stretch_line,
    unfinished_lines,
)
from companion.errors import CompanionError
from companion.language import _, later, many, word
from companion.lesson import review
from companion.lesson.counting import count_words
from companion.lesson.doubts import DoubtfulMark, review_list
from companion.lesson.event import Body
from companion.lesson.mark import Kind, Mark, scope_words
from companion.lesson.near_miss import NearMiss
from companion.lesson.reason import reason_words
from companion.lesson.review_keys import HINTS, ReviewKey
from companion.lesson.scope import scopes_of
from companion.lesson.session import Session

NO_ROUTINE = later("no routine")

Append = Callable[[Session, tuple[Body, ...]], Session]
ReviewEntry = DoubtfulMark | NearMiss | Mark

ESCAPE = "\x1b"
"""Leaves a question as it is, and the review."""


def review_by_keys(console: Console, session: Session, append: Append) -> Session:
    """Ask about each entry that needs a look, then about the clear ones together; return the session."""
    for line in (*unfinished_lines(session), *map(stretch_line, session.unheard)):
        console.print(line, markup=False, soft_wrap=True)
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

    def next_entry(self) -> ReviewEntry | None:
        shown = review_list(self.session)
        entries: list[ReviewEntry] = [*shown.doubtful, *shown.near_misses, *shown.clear]
        return next((entry for entry in entries if _id(entry) not in self.later), None)

    def ask(self, entry: ReviewEntry) -> None:
        if isinstance(entry, NearMiss):
            self.console.print(f"\n{near_miss_line(entry)}", markup=False, soft_wrap=True)
            about = "; ".join(map(reason_words, entry.reasons))
        else:
            mark = entry.mark if isinstance(entry, DoubtfulMark) else entry
            about = (
                "; ".join(map(_, entry.doubts)) if isinstance(entry, DoubtfulMark) else _("nothing doubtful")
            )
            self.console.print(f"\n{mark_line(mark)}", markup=False, soft_wrap=True)
        self.console.print(f"  {about}\n  {_keys_line()}", markup=False, soft_wrap=True)
        try:
            key = click.getchar().lower()
        except (EOFError, KeyboardInterrupt):
            key = ReviewKey.STOP
        try:
            self._press(key, entry)
        except CompanionError as error:
            self.console.print(str(error), markup=False, soft_wrap=True)

    def _press(self, key: str, entry: ReviewEntry) -> None:
        match key:
            case ReviewKey.STOP | "\x1b":
                self.going = False
            case ReviewKey.LATER:
                self.later |= {_id(entry)}
                self._say(_("later"))
            case ReviewKey.UNDO:
                back = review.undo(self.session)
                self._record(
                    back,
                    _("the newest step is taken back") if back else _("there is nothing to take back"),
                )
            case ReviewKey.ACCEPT:
                kept = review.keep_clear(self.session)
                said = many(
                    "{count} mark without a doubt kept", "{count} marks without a doubt kept", len(kept)
                )
                self._record(kept, said)
            case ReviewKey.MISSED:
                self._add()
            case _ if isinstance(entry, NearMiss):
                self._answer(key, entry)
            case _:
                self._decide(key, entry)

    def _record(self, bodies: tuple[Body, ...], said: str) -> None:
        """Record a step, if it changes something, and say what was done and how the count stands."""
        if bodies:
            self.session = self.append(self.session, bodies)
        self._say(f"{said} · {count_words(self.session.praise, self.session.reminder)}")

    def _say(self, said: str) -> None:
        self.console.print(f"  → {said}", markup=False, soft_wrap=True)

    def _answer(self, key: str, miss: NearMiss) -> None:
        match key:
            case ReviewKey.KEEP | ReviewKey.DROP | "\r" | "\n":
                self._record(review.dismiss(self.session, (miss.id,)), _("it was nothing"))
            case ReviewKey.KIND | ReviewKey.REMINDER if miss.cue_alone:
                kind = Kind.PRAISE if key == ReviewKey.KIND else Kind.REMINDER
                said = _("it was a praise") if kind is Kind.PRAISE else _("it was a reminder")
                self._record(review.confirm(self.session, (miss.id,), kind), said)
            case ReviewKey.KIND:
                self._record(
                    review.confirm(self.session, (miss.id,)), _("it was said: {wish}", wish=miss.wish)
                )
            case _:
                self._no_key(key)

    def _decide(self, key: str, entry: DoubtfulMark | Mark) -> None:
        mark = entry.mark if isinstance(entry, DoubtfulMark) else entry
        session = self.session
        match key:
            case ReviewKey.KEEP | "\r" | "\n":
                self._record(review.keep(session, (mark.id,)), word("mark", "kept"))
            case ReviewKey.DROP:
                self._record(review.drop(session, (mark.id,)), word("mark", "dropped"))
            case ReviewKey.KIND:
                other = Kind.PRAISE if mark.kind is Kind.REMINDER else Kind.REMINDER
                said = _("praise now") if other is Kind.PRAISE else _("reminder now")
                self._record(review.flip(session, mark.id), said)
            case ReviewKey.BEFORE if isinstance(entry, DoubtfulMark) and entry.earlier_phase is not None:
                self._record(
                    review.earlier(session, (mark.id,)), _("in {phase} now", phase=entry.earlier_phase)
                )
            case ReviewKey.PHASE if phase := self._phase():
                self._record(review.change(session, mark.id, phase=phase), _("in {phase} now", phase=phase))
            case ReviewKey.ROUTINE if routine := self._routine(mark.phase):
                plain = "" if routine == NO_ROUTINE else routine
                said = _("for {what} now", what=routine if plain else _(NO_ROUTINE))
                self._record(review.change(session, mark.id, routine=plain), said)
            case ReviewKey.SCOPE if scope := self._pick(_("For whom?"), scopes_of(session), scope_words):
                said = _("for {what} now", what=scope_words(scope))
                self._record(review.change(session, mark.id, scope=scope), said)
            case ReviewKey.PHASE | ReviewKey.ROUTINE | ReviewKey.SCOPE:
                self._say(_("as it was"))
            case _:
                self._no_key(key)

    def _no_key(self, key: str) -> None:
        self._say(
            _("“{key}” does nothing here", key=key) if key.isprintable() else _("that key does nothing here")
        )

    def _add(self) -> None:
        kind = self._pick(_("What was missed?"), tuple(Kind), _)
        phase = self._phase() if kind else None
        routine = self._routine(phase) if phase else None
        if not (kind and phase and routine):
            self._say(_("nothing was added"))
            return
        added = review.add(Kind(kind), phase, routine=None if routine == NO_ROUTINE else routine)
        praise = Kind(kind) is Kind.PRAISE
        self._record(
            added,
            _("praise added in {phase}", phase=phase)
            if praise
            else _("reminder added in {phase}", phase=phase),
        )

    def _phase(self) -> str | None:
        return self._pick(_("In which phase?"), self.session.phase_names)

    def _routine(self, phase_name: str) -> str | None:
        phase = self.session.plan.phase(phase_name)
        routines = (*(phase.routines if phase else ()), NO_ROUTINE)
        return self._pick(_("For which routine?"), routines, lambda one: _(one) if one == NO_ROUTINE else one)

    def _pick(self, question: str, choices: Sequence[str], words: Callable[[str], str] = str) -> str | None:
        """Ask for one of `choices`, in `words`, by its letter until one is given; None if Esc goes back."""
        listed = " · ".join(
            f"{letter} {words(choice)}" for letter, choice in zip(ascii_lowercase, choices, strict=False)
        )
        self.console.print(f"  {question} {listed} · {_('Esc back')}", markup=False, soft_wrap=True)
        while (key := click.getchar().lower()) != ESCAPE:
            index = ascii_lowercase.find(key)
            if len(key) == 1 and 0 <= index < len(choices):
                return choices[index]
            self._no_key(key)
        return None


def _keys_line() -> str:
    """Return what each key does."""
    hints = [f"{key} {_(words)}" for key, words in HINTS.items()]
    return " · ".join([*hints, f"{ReviewKey.STOP} {_('stop')}"])


def _id(entry: ReviewEntry) -> str:
    return entry.mark.id if isinstance(entry, DoubtfulMark) else entry.id
