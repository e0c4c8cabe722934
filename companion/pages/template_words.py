"""What a template says in the language that is spoken: sentences, counts, days, marks."""

from collections.abc import Callable

from jinja2 import Environment, nodes
from jinja2.compiler import CodeGenerator, Frame
from markupsafe import Markup, escape

from companion.language import LANGUAGES, _, decimal, language, many, speaking, spoken, word
from companion.lesson.counting import count_words, counted, minute, signed
from companion.lesson.day_words import (
    day_words,
    hour,
    month_day,
    near_day,
    short_day,
    short_year_day,
    year_day,
)
from companion.lesson.mark import scope_words
from companion.lesson.reason import reason_words
from companion.lesson.undo import undo_words
from companion.pages.telling import done_words
from companion.pages.timeline import in_words
from companion.pages.words import rating_words


def tagged(message: str, /, **values: object) -> Markup:
    """Return a translated `message` that is HTML, with `values` made harmless; only for words of our own."""
    harmless = {name: escape(value) for name, value in values.items()}
    return Markup(_(message, **harmless))  # noqa: S704 - ours and the translators'


def many_tagged(one: str, more: str, count: int, /, **values: object) -> Markup:
    """Return the form of such a message that fits `count`."""
    harmless = {name: escape(value) for name, value in values.items()}
    return Markup(many(one, more, count, **harmless))  # noqa: S704 - ours and the translators'


def in_language(code: str, caller: Callable[[], str]) -> str:
    """Return what a template's `call` holds, in the language `code`."""
    with speaking(code):
        return caller()


SAYING = (_, word, many, tagged, many_tagged, in_language, spoken, language, decimal, counted)
"""The functions by which a template says something."""
DIRECT = frozenset(one.__name__ for one in (_, word, many, tagged, many_tagged))


class DirectCalls(CodeGenerator):
    """Compiles a template so that what it says is called as it is, not by way of the context.

    A page says hundreds of things, and the way by the context takes longer than to look one up.
    """

    def visit_Call(  # noqa: N802 - Jinja's name
        self, node: nodes.Call, frame: Frame, forward_caller: bool = False
    ) -> None:
        """Write the call of a function."""
        if not isinstance(node.node, nodes.Name) or node.node.name not in DIRECT:
            super().visit_Call(node, frame, forward_caller=forward_caller)
            return
        self.visit(node.node, frame)
        self.write("(")
        for given in (*node.args, *node.kwargs):
            self.visit(given, frame)
            self.write(", ")
        self.write(")")


def let_speak(templates: Environment) -> None:
    """Give the functions and filters to `templates` by which they say something."""
    templates.code_generator_class = DirectCalls
    templates.globals |= {one.__name__: one for one in SAYING}
    templates.globals["all_languages"] = LANGUAGES
    filters = (
        *(
            day_words,
            year_day,
            short_day,
            short_year_day,
            month_day,
            near_day,
            hour,
            minute,
            signed,
            count_words,
        ),
        *(rating_words, scope_words, reason_words, undo_words, done_words, in_words),
    )
    templates.filters |= {one.__name__: one for one in filters}
