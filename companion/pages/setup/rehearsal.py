"""The rehearsal: the teacher's own voice, learnt on the page; or put off, since the cues work without."""

from collections.abc import Mapping
from typing import Any

from companion.listening.rehearsal.guide import steps_for
from companion.listening.voice.drift import VoiceNow, voice_now
from companion.listening.voice.dropped import dropped_count
from companion.listening.voice.features import reviewed_count
from companion.listening.voice.files import forget, is_learnt
from companion.pages.desk import Desk
from companion.pages.exercises.rehearsed_voice import RehearsedVoice
from companion.pages.exercises.topped_up_voice import ToppedUpVoice
from companion.pages.setup.page import StepPart
from companion.pages.setup.undisturbed import refuse_in_a_lesson
from companion.settings.settings import TABLE, Settings, load_settings

STEP = "rehearsal"


def _begin(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str], place: str) -> None:  # noqa: ARG001
    refuse_in_a_lesson(desk)
    settings = load_settings(desk.home.settings)
    vocabulary = settings.vocabulary(settings.plan())
    name, folder = settings.listening.microphone, desk.home.voice
    desk.exercises.begin(lambda: RehearsedVoice(name, vocabulary, said_once(settings), folder))


def said_once(settings: Settings) -> list[str]:
    """Return the phrases that differ in the name of a table only: one take of each is enough."""
    tables = settings.school.tables
    return [say for phrase in settings.phrases if TABLE in phrase.say for say in phrase.commands(tables)]


def _rehearsed(desk: Desk) -> RehearsedVoice | None:
    exercise = desk.exercises.of(STEP)
    return exercise if isinstance(exercise, RehearsedVoice) else None


def _skip(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str], place: str) -> None:  # noqa: ARG001
    if voice := _rehearsed(desk):
        voice.skip()


def _again(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str], place: str) -> None:  # noqa: ARG001
    if (voice := _rehearsed(desk)) and place.isdecimal():
        voice.again(int(place))


def _rest(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str], place: str) -> None:  # noqa: ARG001
    if voice := _rehearsed(desk):
        voice.rest()


def _go_on(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str], place: str) -> None:  # noqa: ARG001
    refuse_in_a_lesson(desk)
    if voice := _rehearsed(desk):
        voice.go_on()


def _learn(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str], place: str) -> None:  # noqa: ARG001
    if (voice := _rehearsed(desk)) and voice.can_learn:
        voice.learn()


def _top_up(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str], place: str) -> None:  # noqa: ARG001
    refuse_in_a_lesson(desk)
    settings = load_settings(desk.home.settings)
    vocabulary, folder = settings.vocabulary(settings.plan()), desk.home.voice
    desk.exercises.begin(lambda: ToppedUpVoice(vocabulary, folder))


def _voice_now(desk: Desk) -> VoiceNow:
    with desk.log() as log:
        return voice_now(log, desk.home.voice)


def _forget(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str], place: str) -> None:  # noqa: ARG001
    desk.exercises.end(STEP)
    forget(desk.home.voice)


def _more(desk: Desk, values: Mapping[str, Any], said: Mapping[str, str]) -> dict[str, Any]:  # noqa: ARG001
    settings = load_settings(desk.home.settings)
    vocabulary = settings.vocabulary(settings.plan())
    steps = steps_for(vocabulary, said_once(settings))
    minutes = round(sum(step.about_s for step in steps) / 60)
    return {
        "voice": desk.exercises.of(STEP),
        "now": _voice_now(desk),
        "can_top_up": bool(reviewed_count(desk.home.voice) or dropped_count(desk.home.voice)),
        "minutes": minutes,
        "learnt": is_learnt(desk.home.voice),
        "phrases": settings.commands,
    }


REHEARSAL = StepPart(
    saves=False,
    acts={
        "begin": _begin,
        "skip": _skip,
        "again": _again,
        "rest": _rest,
        "go-on": _go_on,
        "learn": _learn,
        "top-up": _top_up,
        "forget": _forget,
    },
    more=_more,
)
