"""What a template says in the language that is spoken: sentences, counts, days, marks."""

from collections.abc import Callable

from jinja2 import Environment
from markupsafe import Markup, escape

from companion.language import LANGUAGES, _, decimal, kept_apart, language, many, speaking, spoken
from companion.lesson.counting import count_words, counted, minute, signed
from companion.lesson.day_words import day_words, hour, month_day, short_day, short_year_day, year_day
from companion.lesson.mark import scope_words
from companion.lesson.reason import reason_words
from companion.lesson.undo import undo_words
from companion.pages.telling import done_words
from companion.pages.timeline import in_words
from companion.pages.words import rating_words


def tagged(message: str, /, **values: object) -> Markup:
    """Return a translated `message` that is HTML, with `values` made harmless; only for words of our own."""
    return Markup(_(message)).format(**kept_apart(values))  # noqa: S704 - ours and the translators'


def many_tagged(one: str, more: str, count: int, /, **values: object) -> Markup:
    """Return the form of such a message that fits `count`."""
    harmless = {name: escape(value) for name, value in values.items()}
    return Markup(many(one, more, count, **harmless))  # noqa: S704 - ours and the translators'


def in_language(code: str, caller: Callable[[], str]) -> str:
    """Return what a template's `call` holds, in the language `code`."""
    with speaking(code):
        return caller()


def let_speak(templates: Environment) -> None:
    """Give the functions and filters to `templates` by which they say something."""
    said = (_, many, tagged, many_tagged, in_language, spoken, language, decimal, counted)
    templates.globals |= {one.__name__: one for one in said}
    templates.globals["all_languages"] = LANGUAGES
    filters = (
        *(day_words, year_day, short_day, short_year_day, month_day, hour, minute, signed, count_words),
        *(rating_words, scope_words, reason_words, undo_words, done_words, in_words),
    )
    templates.filters |= {one.__name__: one for one in filters}
