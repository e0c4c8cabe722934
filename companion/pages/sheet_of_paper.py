"""Pages that are printed: whole in themselves, without any content from elsewhere."""

from jinja2 import Environment, PackageLoader, StrictUndefined

from companion.lesson.signs import with_signs
from companion.pages.template_words import let_speak


def sheet_of_paper(template: str, **values: object) -> str:
    """Return the page that `template` makes of `values`, which are escaped in it, control characters too."""
    templates = Environment(
        loader=PackageLoader("companion.pages"), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    let_speak(templates)
    return with_signs(templates.get_template(template).render(**values))
