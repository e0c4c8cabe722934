"""What other programs of this user may ask the running companion, and its answers."""

import threading
from concurrent.futures import Future
from typing import Any

from companion.background.control import Message
from companion.background.glance import glance_at
from companion.background.status import status_of
from companion.errors import CompanionError
from companion.language import _
from companion.lesson.command import Action, Command
from companion.lesson.day_words import date_words
from companion.lesson.event import AskedAgain, LastTakenBack
from companion.lesson.mark import WHOLE_CLASS, NoteKind, Source
from companion.lesson.meant import meant
from companion.lesson.opening import Opening
from companion.lesson.session import Session
from companion.lesson.undo import taken_back_words
from companion.listening.voice.drift import VoiceNow, voice_now
from companion.live import clip_folder, reviewed_takes
from companion.live.live import Live
from companion.log.read_only import reading_only
from companion.pages.serve import PageServer
from companion.paths import Home
from companion.pressing.hotkeys import Hotkeys
from companion.recording.writer import Recorded
from companion.settings.settings import ListeningSection, Settings


class Requests:
    """Answers the messages of `companion.background.control`."""

    def __init__(
        self, live: Live, hotkeys: Hotkeys, pages: PageServer, stop: threading.Event, home: Home
    ) -> None:
        self._live = live
        self._pages = pages
        self._hotkeys = hotkeys
        self._stop = stop
        self._home = home

    def answer(self, message: Message) -> Message:  # noqa: PLR0911 - one case a request
        """Do what `message` asks; return when it is durable.

        Raises CompanionError if it can't be done.
        """
        match message:
            case {"do": "status"}:
                return status_of(self._live, self._hotkeys.obstacle, self._voice())
            case {"do": "microphone"}:
                return self._microphone()
            case {"do": "glance"}:
                glance, words = glance_at(self._live.state)
                return {"glance": str(glance), "words": words}
            case {"do": "pages", "to": str(to)}:
                return {"address": self._pages.address(to), "file": str(self._pages.file(to))}
            case {"do": "stop"}:
                self._stop.set()
                return {}
            case {"do": "open", "class_group": str(class_group), "plan": plan, "room": str(room)}:
                opening = Opening(class_group, plan, room)
                opened = self._opened(self._live.open(opening, Source.COMMAND_LINE))
                return opened | {"hint": _unplanned(class_group, self._live.settings)}
            case {"do": "open"}:
                return self._opened(self._live.open_lesson(Source.COMMAND_LINE))
            case {"do": "close"}:
                closed = self._live.close(Source.COMMAND_LINE).result()
                if closed is None:
                    raise _no_session()
                self._refuse_waiting()
                return _told(closed)
            case {"do": "name", "class_group": str(class_group), "plan": plan, "session": str(session)}:
                named = self._live.name(class_group, plan, Source.COMMAND_LINE, session)
                return _told(named.result())
            case {"do": "command", **wanted}:
                return self._command(wanted)
        raise CompanionError(_("The running companion does not know this request."), remedy=_("Restart it."))

    def _voice(self) -> VoiceNow:
        """Return how it stands with the voice, as far as the log can be read."""
        try:
            with reading_only(self._home.log) as log:
                return voice_now(log, self._home.voice)
        except CompanionError as error:
            return VoiceNow(error.what)

    def _microphone(self) -> Message:
        """Return how the microphone is: for who decides by it, where the status is for who reads it."""
        return {
            "listening": str(self._live.state.listening),
            "level_dbfs": self._live.level_dbfs,
            "trouble": self._live.state.unheard,
        }

    def _refuse_waiting(self) -> None:
        """Raise CompanionError if what was asked for is in memory only: it is not to be asked for again."""
        if waits := self._live.state.waits:
            raise waits

    def _opened(self, opening: Future[Session]) -> Message:
        told = _told(opening.result())
        self._refuse_waiting()
        return told | {"caution": " ".join(_cautions(self._live.settings.listening))}

    def _command(self, wanted: Message) -> Message:
        recorded = self._live.ask(_command_in(wanted), Source.COMMAND_LINE).result()
        if recorded is None:
            raise _no_session()
        self._refuse_waiting()
        session = recorded.session
        undone = taken_back_words(session) if _took_back(recorded) else ""
        return _told(session) | {
            "recorded": sum(not isinstance(body, AskedAgain) for body in recorded.bodies),
            "undone": undone,
            "hint": _no_routine(wanted.get("routine"), session),
            "phases": [phase.name for phase in session.plan],
        }


def _unplanned(class_group: str, settings: Settings) -> str:
    """Return a hint for a class group that the timetable, where there is one, does not know; else ""."""
    known = settings.timetable.class_groups if settings.timetable else frozenset()
    if not known or class_group in known:
        return ""
    if like := meant(class_group, known):
        return _(
            "{class_group} is not on the timetable; taken as typed. Was {other} meant? Then say: "
            "companion name {quoted}",
            class_group=class_group,
            other=like,
            quoted=f'"{like}"' if " " in like else like,
        )
    return _("{class_group} is not on the timetable; taken as typed.", class_group=class_group)


def _no_routine(routine: str | None, session: Session) -> str:
    """Return a hint for a routine that the plan, where it names any, does not have; else ""."""
    planned = session.plan.routines
    if not routine or not planned or routine in planned:
        return ""
    if like := meant(routine, planned):
        return _(
            "“{routine}” is no routine of the plan; taken as typed. Was “{other}” meant?",
            routine=routine,
            other=like,
        )
    return _("“{routine}” is no routine of the plan; taken as typed.", routine=routine)


def _took_back(recorded: Recorded) -> bool:
    """Whether something is otherwise since it was taken back just now."""
    takes = any(isinstance(body, LastTakenBack) and body.taken_back for body in recorded.bodies)
    return takes and not any(isinstance(event.body, AskedAgain) for event in recorded.session.taken_back)


def _cautions(listening: ListeningSection) -> list[str]:
    """Return what the teacher has to be told of at each opening."""
    until, learns = listening.keep_clips_until, listening.learn_from_reviews
    clips = [_(clip_folder.CAUTION, until=date_words(until))] if until else []
    return clips + ([_(reviewed_takes.CAUTION)] if learns else [])


def _command_in(wanted: Message) -> Command:
    try:
        return Command(
            Action(wanted["action"]),
            phase=wanted.get("phase"),
            scope=wanted.get("scope") or WHOLE_CLASS,
            note=NoteKind(wanted["note"]) if wanted.get("note") else None,
            routine=wanted.get("routine"),
        )
    except (KeyError, ValueError):
        raise CompanionError(
            _("The running companion does not know this command."), remedy=_("Restart it.")
        ) from None


def _no_session() -> CompanionError:
    return CompanionError(_("No session is open."), remedy=_("Open one with: companion open CLASS_GROUP"))


def _told(session: Session) -> dict[str, Any]:
    return {
        "session": session.id,
        "class_group": session.class_group,
        "phase": session.phase.name if session.phase else "",
        "praise": session.praise,
        "reminder": session.reminder,
        "margin": session.margin,
        "seq": session.last_seq,
        "paused": session.paused,
    }
