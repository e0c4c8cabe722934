"""What each step has settled, in half a sentence."""

from collections.abc import Mapping

from companion.language import _, many
from companion.listening.voice.files import is_learnt
from companion.pages.desk import Desk
from companion.settings.settings import Settings, parse_settings


def summaries(desk: Desk, text: str) -> Mapping[str, str]:
    """Return what the settings in `text`, which are valid, come to: for each step that settles something."""
    settings = parse_settings(text, str(desk.home.settings))
    return {
        "school": _school(settings),
        "microphone": settings.listening.microphone or _("the computer's own choice"),
        "cue": f"“{settings.listening.cue}”" if settings.listening.cue else _("none"),
        "phrases": many("{count} phrase", "{count} phrases", len(settings.phrases)),
        "rehearsal": _("your voice is learnt") if is_learnt(desk.home.voice) else _("not yet"),
        "keys": many("{count} gesture", "{count} gestures", len(settings.keys)),
        "plans": ", ".join(plan.name for plan in settings.plans),
        "week": _week(settings),
        "levels": ", ".join(level.name for level in settings.levels) or _("none"),
    }


def _school(settings: Settings) -> str:
    school = settings.school
    told = [school.name, school.room, many("{count} table", "{count} tables", len(school.tables))]
    return ", ".join(filter(None, told))


def _week(settings: Settings) -> str:
    if settings.timetable is None:
        return _("none: lessons are opened by hand")
    lessons = sum(1 if isinstance(one.day, str) else len(one.day) for one in settings.timetable.lessons)
    return many("{count} lesson", "{count} lessons", lessons)
