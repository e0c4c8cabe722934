"""What phrases sounded like: kept for the review of their session, learnt from, and let go."""

import logging
from datetime import date

from companion.lesson.session import Session
from companion.listening.sound import Sound
from companion.live.clip_folder import ClipFolder
from companion.live.clips import Clips
from companion.live.reviewed_takes import ReviewedTakes
from companion.log.store import SessionLog
from companion.recording.writer import Recorded
from companion.settings.settings import Settings

log = logging.getLogger(__name__)


class HeardSounds:
    """The sounds of marks and near misses, by the ids that were recorded for them."""

    def __init__(
        self, kept_clips: ClipFolder | None = None, reviewed_takes: ReviewedTakes | None = None
    ) -> None:
        """Begin; by default no sound is written to disk, and nothing is learnt from reviews."""
        self.clips = Clips(kept_clips)
        self._reviewed_takes = reviewed_takes

    def keep(self, recorded: Recorded, sound: Sound, today: date) -> None:
        """Keep what was heard of that which was recorded."""
        for event in recorded.events:
            if event.made is not None:
                self.clips.keep(event.session, event.made, sound, today)

    def settle(self, session: Session, settings: Settings) -> None:
        """Let go of a settled session's sounds, after what was confirmed of them is learnt from."""
        if self._reviewed_takes:
            self._reviewed_takes.take_up(session, self.clips, settings)
        self.clips.forget(session.id)

    def tidy(self, session_log: SessionLog, settings: Settings, today: date) -> None:
        """Drop the sounds of sessions that were settled or purged, and outdated ones from the disk."""
        if self.clips.purge(settings.listening.keep_clips_until, today):
            log.info("clips on disk were removed: their last day is past")
        for session_id in self.clips.sessions:
            summary = session_log.summary(session_id)
            if summary is None:
                self.clips.forget(session_id)
            elif summary.settled:
                self.settle(session_log.session(session_id), settings)

    def close(self) -> None:
        """Wait for what is being learnt."""
        if self._reviewed_takes:
            self._reviewed_takes.close()
