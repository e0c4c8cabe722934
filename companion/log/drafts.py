"""Words that were typed on a page and not saved yet, kept so that none is lost.

They lie beside the log, in a file of their own: a draft comes and goes, the log only grows. What is let go
of is overwritten in the file (`secure_delete`), and there is no second file that could keep it.
"""

import os
import re
import sqlite3
from collections.abc import Collection, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _
from companion.log.plain_errors import SQLITE_ERRORS, words_of

NAME = "drafts.db"
BUSY_S = 5.0
_MAKE = """CREATE TABLE IF NOT EXISTS draft (form TEXT, field TEXT, value TEXT, base TEXT,
    PRIMARY KEY (form, field))"""
_ALL = """SELECT form, field, value, base FROM draft
    WHERE (typeof(form), typeof(field), typeof(value), typeof(base)) = ('text', 'text', 'text', 'text')"""
"""A file that was damaged may hold anything in a column."""


@dataclass(frozen=True, slots=True)
class Draft:
    """What was typed into a field, and what stood in it before."""

    value: str
    base: str


class Drafts:
    """The drafts beside the session log at `log`. A form is named `SESSION/form` or `day/form`."""

    def __init__(self, log: Path) -> None:
        self.path = log.with_name(NAME)

    def keep(self, form: str, field: str, draft: Draft) -> None:
        """Keep what was typed into a field; what is as it stood before is forgotten.

        Raises CompanionError if the disk does not take it.
        """
        with self._open() as db:
            db.execute(_MAKE)
            db.execute("DELETE FROM draft WHERE form = ? AND field = ?", (form, field))
            if draft.value != draft.base:
                db.execute("INSERT INTO draft VALUES (?, ?, ?, ?)", (form, field, draft.value, draft.base))

    def all(self) -> dict[str, dict[str, Draft]]:
        """Return the drafts of every form, by the names of form and field."""
        found: dict[str, dict[str, Draft]] = {}
        if self.path.exists():
            with self._open() as db:
                # A full disk may have taken the file, and no more than that.
                made = db.execute("SELECT 1 FROM sqlite_master WHERE name = 'draft'").fetchone()
                for form, field, value, base in db.execute(_ALL) if made else ():
                    found.setdefault(form, {})[field] = Draft(value, base)
        return found

    def typed(self, form: str) -> dict[str, str]:
        """Return what was typed into the fields of one form."""
        return {field: draft.value for field, draft in self.all().get(form, {}).items()}

    def forget(self, *forms: str) -> None:
        """Forget the drafts of forms whose words were taken over."""
        if forms and self.path.exists():
            with self._open() as db:
                db.execute(_MAKE)
                db.executemany("DELETE FROM draft WHERE form = ?", [(form,) for form in forms])

    def forget_sessions(self, sessions: Collection[str]) -> None:
        """Forget everything that was typed about `sessions`."""
        self.forget(*(form for form in self.all() if form.partition("/")[0] in sessions))

    def forget_words(self, words: Collection[str]) -> None:
        """Forget the forms in which one of `words` was typed."""
        typed = {form: [draft.value for draft in fields.values()] for form, fields in self.all().items()}
        told = [word for word in words if word.strip()]
        self.forget(*(form for form, values in typed.items() if any(w in v for w in told for v in values)))

    def forget_mentions(self, word: re.Pattern[str]) -> int:
        """Forget the forms in which `word` was typed, or stood before; return how many that were."""
        forms = [
            form
            for form, fields in self.all().items()
            if any(word.search(text) for draft in fields.values() for text in (draft.value, draft.base))
        ]
        self.forget(*forms)
        return len(forms)

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        try:
            with suppress(FileExistsError):
                # One that is there is not opened here: closing it would give up the locks of other threads.
                os.close(os.open(self.path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
            with closing(sqlite3.connect(self.path, timeout=BUSY_S)) as db, db:
                db.execute("PRAGMA secure_delete = ON")
                db.execute("PRAGMA synchronous = FULL")
                yield db
        except (OSError, *SQLITE_ERRORS) as error:
            raise CompanionError(
                _("What was typed can't be kept in {path} ({error}).", path=self.path, error=words_of(error)),
                safe=_("Everything recorded before is safe; the words are on the page still."),
                remedy=_("Free or unlock the disk, or save the words with their button now."),
            ) from error
