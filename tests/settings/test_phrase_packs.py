"""Starter settings for each language, and every word of their phrases."""

import pytest

from companion.errors import CompanionError
from companion.lesson.command import Action
from companion.lesson.mark import NoteKind
from companion.settings.phrase_packs import LANGUAGES, starter_text
from companion.settings.settings import parse_settings


@pytest.mark.parametrize("language", LANGUAGES)
def test_starter_settings_are_whole(language: str) -> None:
    """Each language's starter can be read, is of that language, and can do everything that a voice can.

    But for telling held marks: at first none is held.
    """
    settings = parse_settings(starter_text(language), language)
    commands = settings.commands_in(settings.plan()).values()
    assert settings.listening.language == language
    assert {command.action for command in commands} == set(Action) - {
        Action.RESUME,
        Action.TELL,
        Action.OPEN,
        Action.CLOSE,
    }
    assert {command.note for command in commands if command.note} == set(NoteKind) - {NoteKind.OTHER}
    assert len(settings.levels_table()) == 3


def test_languages_have_the_same_phrases() -> None:
    """Every language's starter does the same things, phrase by phrase."""
    doings = {}
    for language in LANGUAGES:
        settings = parse_settings(starter_text(language), language)
        doings[language] = [(phrase.does, phrase.note) for phrase in settings.phrases]
    assert doings["es"] == doings["ko"] == doings["en"]


def test_other_language_is_refused_plainly() -> None:
    """A language without a starter is refused with those that have one."""
    with pytest.raises(CompanionError, match="en, es, ko"):
        starter_text("fi")
