"""The hand-off note as one page that stands alone: to print, or to keep as a file."""

from jinja2 import Environment, PackageLoader, StrictUndefined

from companion.lesson.counting import count_words
from companion.lesson.handoff import (
    INFORMATION_LINE,
    NO_MARK_LINE,
    HandOffNote,
    praised,
    private_lines,
    reminded,
)


def printed_note(note: HandOffNote) -> str:
    """Return the note as an HTML page without any content from elsewhere, one sheet of letter or A4."""
    templates = Environment(
        loader=PackageLoader("companion.pages"), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    return templates.get_template("printed_note.html").render(
        note=note,
        count=count_words(note.praise, note.reminder),
        paragraphs=(("What went well", praised(note)), ("What to work on", reminded(note))),
        private_lines=private_lines(note),
        no_mark="" if note.marked or note.recognition else NO_MARK_LINE,
        information=INFORMATION_LINE,
    )
