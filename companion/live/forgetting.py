"""Forgetting in every place: the log, its backups, clips; and the proof that nothing is left."""

import logging
import re
import shutil
import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _, many
from companion.live.clip_folder import ClipFolder
from companion.log import forget
from companion.log.copies import back_up, backups
from companion.log.drafts import Drafts
from companion.log.forget import Choose
from companion.log.store import open_log
from companion.log.traces import traces_aside
from companion.paths import Home
from companion.recording.due import due_sessions
from companion.recording.rescue import forget_rescued
from companion.settings.pictures import Pictures, of_carry_over
from companion.settings.settings import Settings

log = logging.getLogger(__name__)

_LEFT_OVER = re.compile(r"salvage-.+|.+\.(new|restored)(-wal|-shm|-journal)?|\..+\.[a-z0-9_]{8}")
"""Names of files that have another name when they are whole."""
LEFT_OVER_S = 3600.0
"""Nobody is writing still what was last written so long ago."""


@dataclass(slots=True)
class Forgetting:
    """What came of forgetting."""

    counts: dict[str, int] = field(default_factory=dict)
    """How much of what is gone."""
    held: list[Path] = field(default_factory=list)
    """Files in which the words stand still, as damaged logs that were set aside."""

    @property
    def words(self) -> str:
        """Say how much of what is gone, without a word of it."""
        return ", ".join(forget.amount(*one) for one in self.counts.items() if one[1]) or _("nothing")


def forget_for_good(
    home: Home, choose: Choose, what: str, at: datetime, mentioned: re.Pattern[str] | None = None
) -> Forgetting:
    """Take what is chosen out of the log, its backups and rescue files, with clips, pictures and drafts, and
    look whether anything is left.

    A backup is made first, so that nothing else can be lost, and rewritten like the others afterwards.
    mentioned: what is looked for in words that were typed and not saved.

    Raises StillReadError if another program keeps the words in the log's file; `finish` ends it later. Raises
    CompanionError if the disk does not let us; nothing is taken out then.
    """
    _remove_left_over(home)
    beside, held = forget_rescued(home.log, choose)
    if mentioned:
        beside += Drafts(home.log).forget_mentions(mentioned)
    with open_log(home.log) as opened:
        with opened.reading() as db:
            if not choose(db).count:
                return Forgetting({what: beside}, held)
        back_up(home.log, "forget", at)
        doomed, words = forget.take_out(opened, choose, what, at)
        clips = ClipFolder(home.clips, None)
        for session in doomed.sessions:
            clips.forget(session)
            Pictures(home.pictures).take_away(of_carry_over(session))
        held += [
            path for path in [one.path for one in backups(home.log)] if not _rewritten(path, choose, what, at)
        ]
        unended = False
        try:
            forget.rewrite(opened)
        except forget.StillReadError:
            unended = True
        still = traces_aside(home.folder, words, but=_rightly(home))
        if unended:
            # Who ends it later does not know the words any more, and finds them nowhere else.
            others = {path for path in still if not path.name.startswith(home.log.name)}
            raise forget.StillReadError(held_words(sorted({*held, *others})))
        if not any(path.name.startswith(home.log.name) for path in still):
            forget.mark_gone(opened)
    return Forgetting({what: doomed.count}, sorted({*held, *still}))


def _rightly(home: Home) -> tuple[Path, ...]:
    """Return what may hold the same words without anything of a lesson in it."""
    return home.settings, home.models, home.voice, home.run / "templates"


def held_words(held: Sequence[Path]) -> str:
    """Return in which files words stand still, in a sentence; "" for none."""
    if not held:
        return ""
    return many(
        "It still stands in {count} file: {files}.",
        "It still stands in {count} files: {files}.",
        len(held),
        files=", ".join(map(str, held)),
    )


def _remove_left_over(home: Home) -> None:
    """Remove what a program that was killed left behind of files that it was just writing."""
    old = time.time() - LEFT_OVER_S
    for path in home.folder.rglob("*"):
        if not _LEFT_OVER.fullmatch(path.name) or path.is_relative_to(home.models):
            continue
        with suppress(OSError):
            if path.stat().st_mtime > old:
                continue
            if path.is_dir():
                shutil.rmtree(path)
            else:
                path.unlink()


def finish(home: Home) -> bool:
    """End what a reader has kept from being ended; return whether there was something.

    Raises StillReadError if it is so still.
    """
    with open_log(home.log) as opened:
        if not forget.is_unfinished(opened):
            return False
        forget.rewrite(opened)
        forget.mark_gone(opened)
    return True


def forget_due(home: Home, settings: Settings, now: datetime) -> Forgetting:
    """Forget what has been kept as long as the settings say. Raises CompanionError as `forget_for_good`."""
    outcome = Forgetting()
    with open_log(home.log) as opened:
        sessions = due_sessions(opened, settings, now)
    for choose, what in (
        (forget.whole_sessions(sessions), forget.SESSIONS),
        (forget.notes_before(settings.keeping.notes_before(now)), forget.NOTES),
    ):
        done = forget_for_good(home, choose, what, now)
        outcome.counts |= done.counts
        outcome.held = sorted({*outcome.held, *done.held})
    return outcome


def _rewritten(path: Path, choose: Choose, what: str, at: datetime) -> bool:
    """Take the same out of a backup; return whether that could be done."""
    try:
        with open_log(path) as copy:
            forget.take_out(copy, choose, what, at)
            forget.rewrite(copy)
            forget.mark_gone(copy)
            with copy.reading() as db:
                db.execute("PRAGMA journal_mode = DELETE")
    except CompanionError as error:
        log.warning("a backup could not be rewritten: %s", type(error).__name__)
        return False
    return True
