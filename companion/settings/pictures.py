"""Pictures of how a place looks when all is well: for a phase, a routine or a carry-over.

They lie in the home folder, scaled, and without anything that a camera writes beside the picture.
"""

import hashlib
import io
import json
import re
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _, later
from companion.paths import private_folder, replace_file

WIDEST, HIGHEST = 1600, 1200
"""Pixels: sharp on a projector, and small on the disk."""
MOST_BYTES = 30_000_000
_NAME = re.compile(r"[0-9a-f]{20}\.jpg")
CAUTION = later(
    "A picture in which a child can be seen is not taken: it would be shown to whole classes. "
    "What may be photographed at school is for your school's policy and local law to say."
)


class Pictures:
    """The pictures in a folder, each under what it is of (`of_routine`, `of_carry_over`)."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._list = folder / "pictures.json"

    def put(self, what: str, data: bytes, *, child_seen: bool) -> None:
        """Keep a picture of `what`, in place of the one before.

        data: the file as it was dropped: any that Pillow reads. child_seen: whether the teacher says that a
        child can be seen in it.

        Raises CompanionError for such a picture, for what is no picture, and if the disk does not take it.
        """
        if child_seen:
            raise CompanionError(
                _(CAUTION), safe=_("Nothing was kept."), remedy=_("Take one without children.")
            )
        made = _scaled(data)
        name = f"{hashlib.sha256(made).hexdigest()[:20]}.jpg"
        try:
            replace_file(private_folder(self._folder) / name, made)
            self._save(self._all() | {what: name})
        except OSError as error:
            raise CompanionError(
                _("The picture can't be kept ({strerror}).", strerror=error.strerror),
                safe=_("The one before is still there."),
                remedy=_("Free the disk and try again."),
            ) from error

    def take_away(self, what: str) -> None:
        """Delete the picture of `what`, if there is one."""
        pictures = self._all()
        name = pictures.pop(what, None)
        if name is None:
            return
        self._save(pictures)
        if name not in pictures.values():
            (self._folder / name).unlink(missing_ok=True)

    def name_of(self, what: str) -> str:
        """Return the file's name of the picture of `what`; "" if there is none."""
        name = self._all().get(what, "")
        return name if name and (self._folder / name).is_file() else ""

    def file(self, name: str) -> Path | None:
        """Return the file called `name`, if it is one of the pictures."""
        return self._folder / name if name in self._all().values() else None

    def _all(self) -> dict[str, str]:
        """Return the name of each picture's file; a list that can't be read is an empty one.

        What is no name that `put` gives is nobody's picture, and no way out of the folder.
        """
        try:
            found = json.loads(self._list.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        named = found.items() if isinstance(found, dict) else ()
        return {what: name for what, name in named if isinstance(name, str) and _NAME.fullmatch(name)}

    def _save(self, pictures: dict[str, str]) -> None:
        replace_file(self._list, json.dumps(pictures, ensure_ascii=False, indent=1).encode())


def of_routine(phase: str, routine: str = "") -> str:
    """Return what a picture of a phase, or of a routine in it, is kept under."""
    return f"routine {phase}: {routine}" if routine else f"phase {phase}"


def of_carry_over(session_id: str) -> str:
    """Return what a picture is kept under that goes with the carry-over of a session."""
    return f"carry-over {session_id}"


def _scaled(data: bytes) -> bytes:
    """Return the picture in `data`, upright and scaled, as JPEG with nothing beside its pixels.

    Raises CompanionError if it is none, or too large.
    """
    from PIL import Image, ImageOps  # noqa: PLC0415 - only where a picture is added

    if len(data) > MOST_BYTES:
        raise CompanionError(
            _("The file is larger than {most} MB.", most=MOST_BYTES // 1_000_000),
            safe=_("Nothing was kept."),
            remedy=_("Save the picture smaller and try again."),
        )
    try:
        with Image.open(io.BytesIO(data)) as opened:
            upright = ImageOps.exif_transpose(opened).convert("RGB")
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise CompanionError(
            _("This file is no picture that can be read."),
            safe=_("Nothing was kept."),
            remedy=_("Save the photo as JPEG or PNG and drop it again."),
        ) from error
    upright.thumbnail((WIDEST, HIGHEST))
    # A new picture takes over pixels only: no place, no time, no camera, no comment.
    bare = Image.new("RGB", upright.size)
    bare.paste(upright)
    made = io.BytesIO()
    bare.save(made, "JPEG", quality=85, optimize=True)
    return made.getvalue()
