"""What all rooms of a school tell together, as one page that stands alone: to print, or to keep as a file."""

from typing import TYPE_CHECKING

from companion.language import later
from companion.pages.sheet_of_paper import sheet_of_paper

if TYPE_CHECKING:
    from companion.school.ask import SchoolLook

SHARE_CAUTION = later(
    "Before you share: whoever can open this folder can read this room's lessons, class by class, without"
    " names of children or teacher. Your school's policy and the law of your place come first."
)
RULE = later(
    "Only sums over at least three rooms are told, of groups that are still five lessons and three class"
    " groups without any one of the rooms. What is too small is told by the month, with others, or"
    " not at all."
)


def school_sheet(look: "SchoolLook") -> str:
    """Return the sheet as an HTML page without any content from elsewhere."""
    return sheet_of_paper("school_sheet.html", look=look, rule=RULE)
