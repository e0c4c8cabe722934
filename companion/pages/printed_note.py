"""Hand-off notes as one page that stands alone: to print, or to keep as a file."""

from collections.abc import Sequence

from companion.language import _
from companion.lesson.counting import count_words
from companion.lesson.handoff import (
    INFORMATION_LINE,
    NO_MARK_LINE,
    HandOffNote,
    praised,
    private_lines,
    reminded,
)
from companion.pages.sheet_of_paper import sheet_of_paper


def printed_notes(notes: Sequence[HandOffNote]) -> str:
    """Return the notes as an HTML page without any content from elsewhere, one sheet of letter or A4 each."""
    sheets = [
        {
            "note": note,
            "count": count_words(note.praise, note.reminder),
            "paragraphs": ((_("What went well"), praised(note)), (_("What to work on"), reminded(note))),
            "private_lines": private_lines(note),
            "no_mark": "" if note.marked or note.recognition else _(NO_MARK_LINE),
        }
        for note in notes
    ]
    return sheet_of_paper("printed_note.html", sheets=sheets, information=INFORMATION_LINE)
