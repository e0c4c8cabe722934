"""How the running companion is, in eleven lines."""

from datetime import date, datetime

from companion.background.control import Message
from companion.errors import CompanionError
from companion.lesson.counting import count_words, how_many, minute
from companion.lesson.plan_clock import phase_left_ms
from companion.lesson.session import Session
from companion.listening.microphone.capture import QUIET_DBFS
from companion.live.live import Live
from companion.live.state import Listening, LiveState
from companion.pressing.hotkeys import Obstacle

NO_TROUBLE = "none"


def status_of(live: Live, keys: Obstacle | None) -> Message:
    """Return label and text of each line. Names no child; a class group is what it is called."""
    state = live.state
    return {
        "session": _session(state.session),
        "phase": _phase(live, state.session),
        "count": _count(state.session),
        "last mark": _last_mark(state.session),
        "microphone": _microphone(state, live.level_dbfs, live.settings.listening.keep_clips_until),
        "keys": keys.reason if keys else "heard everywhere on this desktop",
        "engine": _engine(live, state.session),
        "coming": _coming(state, live.clock.wall()),
        "to review": _waiting(state),
        "promises": _promises(state),
        "trouble": _trouble(state, keys, live.log_news),
    }


def _session(session: Session | None) -> str:
    if session is None:
        return "none is open"
    return f"{session.class_group}, since {session.opened_at:%H:%M}, plan '{session.plan.name}'"


def _phase(live: Live, session: Session | None) -> str:
    if session is None or session.phase is None:
        return "–"
    now_ms = round((live.clock.steady_s() - live.state.zero_s) * 1000)
    left_ms = phase_left_ms(session, now_ms)
    if left_ms is None:
        return session.phase.name
    minutes = abs(left_ms) // 60_000
    return f"{session.phase.name}, {minutes} min {'left' if left_ms >= 0 else 'over its time'}"


def _count(session: Session | None) -> str:
    if session is None:
        return "–"
    return count_words(session.praise, session.reminder)


def _last_mark(session: Session | None) -> str:
    newest = max(session.standing, key=lambda mark: int(mark.id[1:]), default=None) if session else None
    if newest is None:
        return "–"
    return f"{newest.kind} by {newest.source}, {minute(newest.at_ms)}"


def _microphone(state: LiveState, level_dbfs: float | None, kept_until: date | None) -> str:
    match state.listening:
        case Listening.ON if level_dbfs is not None and level_dbfs < QUIET_DBFS:
            return "opening: no sound has come yet"
        case Listening.ON if level_dbfs is not None:
            kept = f"; what is heard of phrases is kept until {kept_until:%d %B %Y}" if kept_until else ""
            return f"open, level {level_dbfs:.0f} dBFS{kept}"
        case Listening.PAUSED:
            return "closed: listening is paused"
        case Listening.TROUBLED:
            return "not heard"
    return "closed"


def _engine(live: Live, session: Session | None) -> str:
    try:
        chosen = live.engine_in(session.plan if session else live.settings.plan())
    except CompanionError as error:
        return error.what
    return f"{chosen}, chosen by itself" if live.settings.listening.engine == "auto" else chosen


def _coming(state: LiveState, now: datetime) -> str:
    if state.coming is None:
        return "nothing in the timetable"
    if state.coming.begins <= now:
        return f"{state.coming.class_group}, since {state.coming.begins:%H:%M}: companion open"
    return f"{state.coming.class_group}, {state.coming.begins:%a %H:%M}"


def _waiting(state: LiveState) -> str:
    if not state.waiting:
        return "nothing"
    groups = ", ".join(summary.class_group for summary in state.waiting[:6])
    count = len(state.waiting)
    wait = "1 session waits for its review" if count == 1 else f"{count} sessions wait for their review"
    return f"{wait} ({groups}): companion review"


def _promises(state: LiveState) -> str:
    if not state.overdue:
        return "none is overdue"
    groups = ", ".join(dict.fromkeys(state.overdue))
    return f"{how_many(len(state.overdue), 'is', 'are')} overdue ({groups}): companion promises"


def _trouble(state: LiveState, keys: Obstacle | None, log_news: str) -> str:
    troubles = [f"{state.trouble}. {state.remedy}"] if state.trouble else []
    troubles += [keys.remedy] if keys else []
    troubles += [str(waits)] if (waits := state.waits) else []
    troubles += [state.settings_news] if state.settings_news else []
    troubles += [log_news] if log_news else []
    return " ".join(troubles) or NO_TROUBLE
