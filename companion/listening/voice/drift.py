"""How it stands with the voice: learnt or not, and whether it is heard less well than it was.

Nothing is kept for it but what the log has of each mark by voice anyway: how sure the ear was.
"""

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.day_words import date_words
from companion.listening.voice.dropped import dropped_count
from companion.listening.voice.features import reviewed_count
from companion.listening.voice.files import FILE, recall, recall_rehearsed_odds
from companion.log.hearing import lessons_heard
from companion.log.store import SessionLog
from companion.weeks.hearing import heard_less_since


@dataclass(frozen=True, slots=True)
class HeardLess:
    """The voice is heard less well than it was."""

    since: date
    can_top_up: bool
    """Whether reviews left something to learn from."""

    @property
    def words(self) -> str:
        """Return what was noticed, and what may be the reason."""
        return _(
            "Since {day} your voice is heard less well than before. A cold, a mask or another microphone may "
            "be the reason.",
            day=date_words(self.since),
        )

    @property
    def remedy(self) -> str:
        """Return what to do."""
        if self.can_top_up:
            return _("If it stays so, let it be learnt again from your reviews: companion rehearse --top-up")
        return _("If it stays so, rehearse again: companion rehearse")


def heard_less(log: SessionLog, folder: Path) -> HeardLess | None:
    """Return since when the voice that was learnt in `folder` is heard less well; None while it is not.

    Only lessons count since it was learnt last, so that whatever is learnt begins anew.
    """
    try:
        learnt = datetime.fromtimestamp((folder / FILE).stat().st_mtime).astimezone()
    except OSError:
        return None
    since = heard_less_since(lessons_heard(log, learnt), recall_rehearsed_odds(folder))
    if since is None:
        return None
    return HeardLess(since, bool(reviewed_count(folder) or dropped_count(folder)))


@dataclass(frozen=True, slots=True)
class VoiceNow:
    """How it stands with the voice, and what to do; nothing where all is well."""

    words: str
    remedy: str = ""
    tells_others: bool = True
    """Whether others who say the phrases are told from the teacher, where a voice is learnt."""


def voice_now(log: SessionLog, folder: Path) -> VoiceNow:
    """Say whether a voice is learnt, whether others are told from it, and whether it is heard less well."""
    try:
        learnt = recall(folder)
    except CompanionError as error:
        return VoiceNow(error.what, error.remedy)
    if learnt is None:
        return VoiceNow(_("not learnt: no voice is refused, whoever says your phrases makes marks"))
    if less := heard_less(log, folder):
        return VoiceNow(less.words, less.remedy)
    if learnt.speaker is None:
        return VoiceNow(_("learnt, but not clearly one voice: no voice is refused"), tells_others=False)
    return VoiceNow(_("learnt: other voices make near misses, no marks"))
