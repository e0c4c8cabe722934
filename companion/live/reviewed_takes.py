"""From a settled review to more takes of the voice, and to what it is told from: with consent, as features.

Runs in a process of its own, so that hearing the takes anew costs the running companion neither time nor
memory.
"""

import logging
import os
from collections.abc import Mapping, Sequence
from contextlib import suppress
from multiprocessing.process import BaseProcess
from pathlib import Path

from companion.errors import CompanionError
from companion.language import later
from companion.lesson.session import Session
from companion.lesson.truly_said import falsely_heard, truly_said
from companion.listening.sound import Sound
from companion.live.clips import Clips
from companion.parent import child
from companion.settings.settings import Settings

log = logging.getLogger(__name__)

CAUTION = later(
    "Features of your voice are kept from phrases that you confirm in the review, and of the second of sound"
    " that a dropped mark was heard in, which may be a child's. They are personal data: make sure that school"
    " policy and local law allow that. Delete them with: companion rehearse --forget"
)
FINISH_WITHIN_S = 20.0


class ReviewedTakes:
    """Keeps the features of what a review confirmed or dropped, beside those of the rehearsal in `folder`."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._done: set[str] = set()
        """Sessions that were taken up; settling one again takes nothing twice."""
        self._processes: list[BaseProcess] = []

    def take_up(self, session: Session, clips: Clips, settings: Settings) -> None:
        """Take what was truly said, or falsely heard, in a settled session, as far as its sound is there.

        Does nothing without the teacher's consent or before a rehearsal, and returns at once.
        """
        if not settings.listening.learn_from_reviews or not self._folder.is_dir():
            return
        cue = settings.listening.cue
        takes = _sounds(truly_said(session), session, clips, cue)
        dropped = _sounds(falsely_heard(session), session, clips, cue)
        if not (takes or dropped) or session.id in self._done:
            return
        self._done.add(session.id)
        self._processes = [process for process in self._processes if process.is_alive()]
        process = child(_keep, self._folder, takes, dropped)
        process.start()
        self._processes.append(process)
        log.info("%d confirmed and %d dropped phrases are kept as features", len(takes), len(dropped))

    def close(self) -> None:
        """Wait for what is being kept."""
        for process in self._processes:
            process.join(FINISH_WITHIN_S)


def _sounds(
    phrases: Mapping[str, str], session: Session, clips: Clips, cue: str | None
) -> list[tuple[str, Sound]]:
    """Return what a detector listens for, the cue or the phrase, with the sound that is still there."""
    heard = [(cue or phrase, clips.get(session.id, item)) for item, phrase in phrases.items()]
    return [(phrase, sound) for phrase, sound in heard if sound is not None]


def _keep(folder: Path, takes: Sequence[tuple[str, Sound]], dropped: Sequence[tuple[str, Sound]]) -> None:
    from companion.listening.voice.dropped import dropped_features, keep_dropped  # noqa: PLC0415
    from companion.listening.voice.features import keep_reviewed, reviewed_features  # noqa: PLC0415

    if hasattr(os, "nice"):
        os.nice(10)
    for phrase, sound in takes:
        # A take that can't be kept is no loss that anybody has to hear of.
        with suppress(CompanionError):
            if (features := reviewed_features(phrase, sound)) is not None:
                keep_reviewed(folder, features)
    for phrase, sound in dropped:
        with suppress(CompanionError):
            if (taken := dropped_features(phrase, sound)) is not None:
                keep_dropped(folder, taken)
