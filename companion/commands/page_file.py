"""A page to print, written where the user asks for it."""

from pathlib import Path

from companion.errors import CompanionError
from companion.language import _


def write_page(file: Path, page: str) -> None:
    """Write `page` to `file`, for this user only.

    Raises CompanionError if it can't be written.
    """
    try:
        file.touch(mode=0o600)
        file.write_text(page, encoding="utf-8")
    except OSError as error:
        raise CompanionError(
            _("The page can't be written to {file} ({strerror}).", file=file, strerror=error.strerror),
            safe=_("The session log was not changed."),
            remedy=_("Name a file in a folder that you may write to."),
        ) from error
