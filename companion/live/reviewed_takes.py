"""From a settled review to more takes of the teacher's voice: only with consent, and only as features.

Runs in a process of its own, so that hearing the takes anew costs the running companion neither time nor
memory.
"""

import logging
import os
from collections.abc import Sequence
from contextlib import suppress
from multiprocessing.process import BaseProcess
from pathlib import Path

from companion.errors import CompanionError
from companion.language import later
from companion.lesson.session import Session
from companion.lesson.truly_said import truly_said
from companion.listening.sound import Sound
from companion.live.clips import Clips
from companion.parent import child
from companion.settings.settings import Settings

log = logging.getLogger(__name__)

CAUTION = later(
    "Features of your voice are kept from phrases that you confirm in the review. They are personal data:"
    " make sure that school policy and local law allow that. Delete them with: companion rehearse --forget"
)
FINISH_WITHIN_S = 20.0


class ReviewedTakes:
    """Keeps the features of what the teacher confirmed, beside those of the rehearsal in `folder`."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._done: set[str] = set()
        """Sessions that were taken up; settling one again takes nothing twice."""
        self._processes: list[BaseProcess] = []

    def take_up(self, session: Session, clips: Clips, settings: Settings) -> None:
        """Take what was truly said in a session that is settled, as far as its sound is still there.

        Does nothing without the teacher's consent or before a rehearsal, and returns at once.
        """
        if not settings.listening.learn_from_reviews or not self._folder.is_dir():
            return
        heard = [(phrase, clips.get(session.id, item)) for item, phrase in truly_said(session).items()]
        takes = [(settings.listening.cue or phrase, sound) for phrase, sound in heard if sound is not None]
        if not takes or session.id in self._done:
            return
        self._done.add(session.id)
        self._processes = [process for process in self._processes if process.is_alive()]
        process = child(_keep, self._folder, takes)
        process.start()
        self._processes.append(process)
        log.info("%d confirmed phrases are kept as features", len(takes))

    def close(self) -> None:
        """Wait for what is being kept."""
        for process in self._processes:
            process.join(FINISH_WITHIN_S)


def _keep(folder: Path, takes: Sequence[tuple[str, Sound]]) -> None:
    from companion.listening.voice.features import keep_reviewed, reviewed_features  # noqa: PLC0415

    if hasattr(os, "nice"):
        os.nice(10)
    for phrase, sound in takes:
        # A take that can't be kept is no loss that anybody has to hear of.
        with suppress(CompanionError):
            if (features := reviewed_features(phrase, sound)) is not None:
                keep_reviewed(folder, features)
