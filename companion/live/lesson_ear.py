"""The ear of the session that is open: made when it is to be listened to, and gone when not."""

from collections.abc import Callable

from companion.lesson.session import Session
from companion.listening.ear import Catch, Ear
from companion.listening.microphone.capture import Microphone
from companion.listening.microphone.trouble import Trouble
from companion.listening.spotter import Spotter
from companion.settings.settings import Settings

OpenSpotter = Callable[[Settings, Session], Spotter]
OpenMicrophone = Callable[[str | None, Callable[[Trouble | None, float], None]], Microphone]
Words = tuple[str, str]
"""What is the matter, and what to do about it."""


class LessonEar:
    """Listens to one session at a time, or to none.

    on_catch(session_id, catch) and on_trouble(session_id, part, words, since_s) are called from threads of
    the ear and return at once; `words` is None when that part of the ear is well again.
    """

    def __init__(
        self,
        open_spotter: OpenSpotter | None,
        open_microphone: OpenMicrophone,
        on_catch: Callable[[str, Catch], None],
        on_trouble: Callable[[str, str, Words | None, float], None],
    ) -> None:
        """Make ready; open_spotter: None for an ear that never listens."""
        self._open_spotter = open_spotter
        self._open_microphone = open_microphone
        self._on_catch = on_catch
        self._on_trouble = on_trouble
        self._ear: Ear | None = None
        self._session = ""
        self._troubles: dict[str, Words] = {}

    @property
    def is_open(self) -> bool:
        """Whether a session is listened to."""
        return self._ear is not None

    @property
    def can_listen(self) -> bool:
        """Whether it ever listens."""
        return self._open_spotter is not None

    @property
    def trouble(self) -> Words | None:
        """Why nothing is heard; None when all is well."""
        return next(iter(self._troubles.values()), None)

    @property
    def level_dbfs(self) -> float | None:
        """Loudness at the microphone; None while it is closed."""
        ear = self._ear
        return None if ear is None else ear.microphone.level_dbfs

    def start(self, settings: Settings, session: Session) -> None:
        """Begin to listen to `session`, if that is to be and is not so already."""
        open_spotter = self._open_spotter
        if open_spotter is None or self._ear is not None:
            return

        def on_trouble(trouble: Trouble | None, since_s: float) -> None:
            words = (trouble.words, trouble.remedy) if trouble else None
            self._on_trouble(session.id, "microphone", words, since_s)

        def on_failure(what: str | None, since_s: float) -> None:
            words = (what, "It is tried again by itself.") if what else None
            self._on_trouble(session.id, "recogniser", words, since_s)

        self._session = session.id
        microphone = self._open_microphone(settings.listening.microphone or None, on_trouble)
        self._ear = Ear(
            microphone,
            lambda: open_spotter(settings, session),
            lambda catch: self._on_catch(session.id, catch),
            on_failure,
        )

    def stop(self) -> Ear | None:
        """Close the microphone at once, and return what will still deliver what was said until now."""
        ear, self._ear = self._ear, None
        self._troubles.clear()
        if ear is not None:
            ear.close()
        return ear

    def note(self, session_id: str, part: str, words: Words | None) -> bool:
        """Take note of a trouble or its end; False if it is about a session that is not listened to now."""
        if self._ear is None or session_id != self._session:
            return False
        self._troubles.pop(part, None)
        if words:
            self._troubles[part] = words
        return True
