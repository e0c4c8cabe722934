"""The ear of the session that is open: made when it is to be listened to, and gone when not."""

import logging
from collections.abc import Callable
from dataclasses import dataclass

from companion.errors import CompanionError
from companion.language import _, later
from companion.lesson.plan import Plan
from companion.lesson.session import Session
from companion.listening.ear import Catch, Ear
from companion.listening.microphone.capture import Microphone
from companion.listening.microphone.trouble import Trouble
from companion.listening.spotter import Spotter
from companion.settings.settings import Settings

OpenSpotter = Callable[[Settings, Session], Spotter]
OpenMicrophone = Callable[[str | None, Callable[[Trouble | None, float], None]], Microphone]
ChooseEngine = Callable[[Settings, Plan], str]
"""Names the engine that listens in a lesson. Raises CompanionError if none is ready."""
Words = tuple[str, str]
"""What is the matter, in English as the log keeps it, and what to do about it, as it is told."""

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class EarParts:
    """How a lesson is listened to."""

    open_spotter: OpenSpotter | None
    """None: it is not."""
    open_microphone: OpenMicrophone = Microphone
    choose_engine: ChooseEngine = lambda settings, _plan: settings.listening.engine
    """By default the settings are taken by their word."""


DEAF = EarParts(None)


class LessonEar:
    """Listens to one session at a time, or to none.

    on_catch(session_id, catch) and on_trouble(session_id, part, words, since_s) are called from threads of
    the ear and return at once; `words` is None when that part of the ear is well again.
    """

    def __init__(
        self,
        ear: EarParts,
        on_catch: Callable[[str, Catch], None],
        on_trouble: Callable[[str, str, Words | None, float], None],
    ) -> None:
        self._parts = ear
        self._on_catch = on_catch
        self._on_trouble = on_trouble
        self._ear: Ear | None = None
        self._session: Session | None = None
        self._troubles: dict[str, Words] = {}

    def listens_to(self, session: Session | None) -> bool:
        """Whether the ear is as it should be for `session`, None for no session: nothing is to be changed.

        Another plan has other phrases, and a guest another voice: either asks for another ear.
        """
        if session is None or not self.can_listen:
            return self._ear is None
        before = self._session
        return (
            self._ear is not None
            and before is not None
            and (before.id, before.plan, before.by_guest) == (session.id, session.plan, session.by_guest)
        )

    def engine_in(self, settings: Settings, plan: Plan) -> str:
        """Return the name of the engine that listens in a lesson with `plan`.

        Raises CompanionError if none is ready.
        """
        return self._parts.choose_engine(settings, plan)

    @property
    def can_listen(self) -> bool:
        """Whether it ever listens."""
        return self._parts.open_spotter is not None

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
        """Begin to listen to `session`, if it is ever listened; what fails is told as a trouble."""
        open_spotter = self._parts.open_spotter
        if open_spotter is None:
            return

        def on_trouble(trouble: Trouble | None, since_s: float) -> None:
            words = (trouble.reason, trouble.remedy) if trouble else None
            self._on_trouble(session.id, "microphone", words, since_s)

        def on_failure(error: CompanionError | None, since_s: float) -> None:
            again = _("It is tried again by itself.")
            words = (error.what, f"{again} {error.remedy}".rstrip()) if error else None
            self._on_trouble(session.id, "recogniser", words, since_s)

        self._session = session
        try:
            microphone = self._parts.open_microphone(settings.listening.microphone or None, on_trouble)
            self._ear = Ear(
                microphone,
                lambda: open_spotter(settings, session),
                lambda catch: self._on_catch(session.id, catch),
                on_failure,
            )
        except Exception:
            log.exception("listening could not begin")
            self._troubles["ear"] = (later("listening could not begin"), _("It is tried again by itself."))
        else:
            self._troubles.pop("ear", None)

    def stop(self) -> Ear | None:
        """Close the microphone at once, and return what will still deliver what was said until now."""
        ear, self._ear = self._ear, None
        self._troubles.clear()
        if ear is not None:
            ear.close()
        return ear

    def note(self, session_id: str, part: str, words: Words | None) -> bool:
        """Take note of a trouble or its end; False if it is about a session that is not listened to now."""
        if self._ear is None or self._session is None or session_id != self._session.id:
            return False
        if words:
            # What came first stays the reason that is told, whatever comes to it.
            self._troubles[part] = words
        else:
            self._troubles.pop(part, None)
        return True
