"""Sentences of the templates that have HTML in them."""

from markupsafe import Markup, escape

from companion.language import _, many


def tagged(message: str, /, **values: object) -> Markup:
    """Return a translated `message` that is HTML, with `values` made harmless; only for words of our own."""
    return Markup(_(message)).format(**values)  # noqa: S704 - ours and the translators'


def many_tagged(one: str, more: str, count: int, /, **values: object) -> Markup:
    """Return the form of such a message that fits `count`."""
    harmless = {name: escape(value) for name, value in values.items()}
    return Markup(many(one, more, count, **harmless))  # noqa: S704 - ours and the translators'
