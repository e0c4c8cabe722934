"""What candidates sounded like, on disk: only where the settings say so, and only until their last day.

A child's voice may be in it. School policy and local law decide whether it may be kept at all.
"""

import logging
import os
import shutil
from datetime import date
from pathlib import Path

import soundfile

from companion.errors import CompanionError
from companion.listening.candidate import SAMPLE_RATE, Sound
from companion.paths import private_folder

log = logging.getLogger(__name__)

CAUTION = (
    "The sound of phrases is kept on disk until {until}. Children's voices may be in it: make sure that "
    "school policy and local law allow that."
)


class KeptClips:
    """Sounds in files of a private folder, which is emptied after its last day."""

    def __init__(self, folder: Path, until: date | None) -> None:
        self._folder = folder
        self._until = until

    def keep(self, session: str, item: str, sound: Sound, today: date) -> None:
        """Keep the sound of a mark or near miss, if today is not past the last day."""
        if self._until is None or today > self._until or not len(sound):
            return
        try:
            path = private_folder(private_folder(self._folder) / session) / f"{item}.flac"
            with os.fdopen(os.open(path, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600), "wb") as file:
                soundfile.write(file, sound, SAMPLE_RATE, format="FLAC")
        except (OSError, CompanionError, soundfile.LibsndfileError) as error:
            # A mark must not fail with its clip.
            log.warning("a clip could not be kept: %s", type(error).__name__)

    def purge(self, today: date) -> bool:
        """Remove everything if nothing may be kept any more; return whether there was something."""
        if (self._until is not None and today <= self._until) or not self._folder.is_dir():
            return False
        shutil.rmtree(self._folder, ignore_errors=True)
        return True
