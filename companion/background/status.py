"""How the running companion is, in twelve lines."""

from datetime import date, datetime

from companion.background.control import NO_TROUBLE, Message
from companion.errors import CompanionError
from companion.language import _, later, many
from companion.lesson.counting import count_words, minute
from companion.lesson.day_words import SHORT_WEEKDAYS, date_words, hour
from companion.lesson.mark import Kind, Source
from companion.lesson.plan_clock import phase_left_ms
from companion.lesson.session import Session
from companion.listening.microphone.capture import QUIET_DBFS
from companion.listening.voice.drift import VoiceNow
from companion.live.live import Live
from companion.live.state import Listening, LiveState
from companion.pressing.hotkeys import Obstacle

_MICROPHONE = {
    Listening.PAUSED: later("closed: listening is paused"),
    Listening.GUEST: later("closed: a guest teaches"),
    Listening.TROUBLED: later("not heard"),
}
KINDS = {Kind.PRAISE: later("praise"), Kind.REMINDER: later("reminder")}
SOURCES = {
    Source.VOICE: later("voice"),
    Source.KEY: later("key"),
    Source.PAGE: later("page"),
    Source.CLOCK: later("clock"),
    Source.REVIEW: later("review"),
    Source.COMMAND_LINE: later("command line"),
}


def status_of(live: Live, keys: Obstacle | None, voice: VoiceNow) -> Message:
    """Return label and text of each line. Names no child; a class group is what it is called."""
    state = live.state
    return {
        later("session"): _session(state.session),
        later("phase"): _phase(live, state.session),
        later("count"): _count(state.session),
        later("last mark"): _last_mark(state.session),
        later("microphone"): _microphone(state, live.level_dbfs, live.settings.listening.keep_clips_until),
        later("keys"): keys.reason if keys else _("heard everywhere on this desktop"),
        later("engine"): _engine(live, state.session),
        later("voice"): " ".join(filter(None, (voice.words, voice.remedy))),
        later("coming"): _coming(state, live.clock.wall()),
        later("to review"): _waiting(state),
        later("promises"): _promises(state),
        later("trouble"): _trouble(state, keys, live.log_news),
    }


def _session(session: Session | None) -> str:
    if session is None:
        return _("none is open")
    return _(
        "{class_group}, since {hour}, plan '{plan}'",
        class_group=session.class_group,
        hour=hour(session.opened_at),
        plan=session.plan.name,
    )


def _phase(live: Live, session: Session | None) -> str:
    if session is None or session.phase is None:
        return "–"
    now_ms = round((live.clock.steady_s() - live.state.zero_s) * 1000)
    left_ms = phase_left_ms(session, now_ms)
    if left_ms is None:
        return session.phase.name
    minutes = abs(left_ms) // 60_000
    if left_ms >= 0:
        return _("{phase}, {minutes} min left", phase=session.phase.name, minutes=minutes)
    return _("{phase}, {minutes} min over its time", phase=session.phase.name, minutes=minutes)


def _count(session: Session | None) -> str:
    if session is None:
        return "–"
    return count_words(session.praise, session.reminder)


def _last_mark(session: Session | None) -> str:
    newest = max(session.standing, key=lambda mark: int(mark.id[1:]), default=None) if session else None
    if newest is None:
        return "–"
    return _(
        "{kind} by {source}, {minute}",
        kind=_(KINDS[newest.kind]),
        source=_(SOURCES[newest.source]),
        minute=minute(newest.at_ms),
    )


def _microphone(state: LiveState, level_dbfs: float | None, kept_until: date | None) -> str:
    match state.listening:
        case Listening.ON if level_dbfs is not None and level_dbfs < QUIET_DBFS:
            return _("opening: no sound has come yet")
        case Listening.ON if level_dbfs is not None:
            level = f"{level_dbfs:.0f}"
            if kept_until is None:
                return _("open, level {level} dBFS", level=level)
            return _(
                "open, level {level} dBFS; what is heard of phrases is kept until {day}",
                level=level,
                day=date_words(kept_until),
            )
    return _(_MICROPHONE.get(state.listening, later("closed")))


def _engine(live: Live, session: Session | None) -> str:
    if session is not None and session.by_guest:
        return _("none that was learnt from a voice: a guest teaches")
    try:
        chosen = live.engine_in(session.plan if session else live.settings.plan())
    except CompanionError as error:
        return error.what
    return (
        _("{engine}, chosen by itself", engine=chosen) if live.settings.listening.engine == "auto" else chosen
    )


def _coming(state: LiveState, now: datetime) -> str:
    if state.coming is None:
        return _("nothing in the timetable")
    if state.coming.begins <= now:
        return _(
            "{class_group}, since {hour}: companion open",
            class_group=state.coming.class_group,
            hour=hour(state.coming.begins),
        )
    begins = state.coming.begins
    return f"{state.coming.class_group}, {_(SHORT_WEEKDAYS[begins.weekday()])} {hour(begins)}"


def _waiting(state: LiveState) -> str:
    if not state.waiting:
        return _("nothing")
    groups = ", ".join(summary.class_group for summary in state.waiting[:6])
    return many(
        "{count} session waits for its review ({class_groups}): companion review",
        "{count} sessions wait for their review ({class_groups}): companion review",
        len(state.waiting),
        class_groups=groups,
    )


def _promises(state: LiveState) -> str:
    if not state.overdue:
        return _("none is overdue")
    groups = ", ".join(dict.fromkeys(state.overdue))
    return many(
        "{count} is overdue ({class_groups}): companion promises",
        "{count} are overdue ({class_groups}): companion promises",
        len(state.overdue),
        class_groups=groups,
    )


def _trouble(state: LiveState, keys: Obstacle | None, log_news: str) -> str:
    troubles = [state.unheard] if state.trouble else []
    troubles += [keys.remedy] if keys else []
    troubles += [str(waits)] if (waits := state.waits) else []
    troubles += [state.settings_news] if state.settings_news else []
    troubles += [log_news] if log_news else []
    return " ".join(troubles) or NO_TROUBLE
