"""What each step has settled, in half a sentence."""

from collections.abc import Mapping

from companion.lesson.counting import how_many
from companion.listening.voice.files import FILE
from companion.pages.desk import Desk
from companion.settings.settings import Settings, parse_settings


def summaries(desk: Desk, text: str) -> Mapping[str, str]:
    """Return what the settings in `text`, which are valid, come to: for each step that settles something."""
    settings = parse_settings(text, str(desk.home.settings))
    return {
        "school": _school(settings),
        "microphone": settings.listening.microphone or "the computer's own choice",
        "cue": f"“{settings.listening.cue}”" if settings.listening.cue else "none",
        "phrases": how_many(len(settings.phrases), "phrase"),
        "rehearsal": "your voice is learnt" if (desk.home.voice / FILE).exists() else "not yet",
        "keys": how_many(len(settings.keys), "gesture"),
        "plans": ", ".join(plan.name for plan in settings.plans),
        "week": _week(settings),
        "levels": ", ".join(level.name for level in settings.levels) or "none",
    }


def _school(settings: Settings) -> str:
    school = settings.school
    told = [school.name, school.room, how_many(len(school.tables), "table")]
    return ", ".join(filter(None, told))


def _week(settings: Settings) -> str:
    if settings.timetable is None:
        return "none: lessons are opened by hand"
    lessons = sum(1 if isinstance(one.day, str) else len(one.day) for one in settings.timetable.lessons)
    return how_many(lessons, "lesson")
