"""Where the companion keeps its files: one private folder for each user."""

import os
import re
import tempfile
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from platformdirs import user_data_path

from companion import access
from companion.access import keep_to_user
from companion.errors import CompanionError
from companion.language import _
from companion.typed import PROGRAM

PROFILES = "profiles"
"""The folder of the homes of those who teach in the same room."""
FREE_WITHIN_S = 0.5
"""So long a file that another program reads, as a virus scanner does, is waited for where Windows asks it."""


@dataclass(frozen=True, slots=True)
class Home:
    """The companion's private folder and the places in it."""

    folder: Path

    @property
    def profile(self) -> str:
        """Whose it is, where several teach in one room by one account; "" for the first of them."""
        return self.folder.name if self.folder.parent.name == PROFILES else ""

    @property
    def first(self) -> "Home":
        """The home of the first teacher, in which those of the others lie."""
        return Home(self.folder.parent.parent) if self.profile else self

    @property
    def program(self) -> str:
        """How the program is called for this home: `companion`, with what the environment does not say."""
        standing = os.environ.get("COMPANION_HOME", "")
        usual = Home(Path(standing).expanduser()) if standing else default_home()
        folder = "" if self.first == usual else f' --home "{self.first.folder}"'
        same = self.profile == os.environ.get("COMPANION_PROFILE", "")
        return PROGRAM + folder + ("" if same or not self.profile else f' --profile "{self.profile}"')

    def of_profile(self, name: str) -> "Home":
        """Return the home of another teacher of the room. Raises CompanionError for what can be no name."""
        if not re.fullmatch(r"\w[\w -]{0,38}\w|\w", name):
            raise CompanionError(
                _("“{name}” can't be the name of a profile.", name=name[:60]),
                safe=_("Nothing was made."),
                remedy=_("Take up to 40 letters, digits and spaces, as in: companion --profile music"),
            )
        return Home(self.first.folder / PROFILES / name)

    @property
    def settings(self) -> Path:
        """The settings file, `companion.toml`."""
        return self.folder / "companion.toml"

    @property
    def log(self) -> Path:
        """The session log, one SQLite file."""
        return self.folder / "sessions.db"

    @property
    def rescue(self) -> Path:
        """What happened in lessons while the log could not be written, until it is taken up."""
        return rescue_beside(self.log)

    @property
    def school(self) -> Path:
        """What was gathered of all rooms of a school: sums of whole classes."""
        return self.folder / "school"

    @property
    def voice(self) -> Path:
        """Voice features learnt from the teacher's takes: personal data."""
        return self.folder / "voice"

    @property
    def clips(self) -> Path:
        """Sound of candidates, where the settings keep it: children's voices may be in it."""
        return self.folder / "clips"

    @property
    def pictures(self) -> Path:
        """Pictures for routines and carry-overs, which classes are shown."""
        return self.folder / "pictures"

    @property
    def models(self) -> Path:
        """Speech models that were fetched or added."""
        return self.folder / "models"

    @property
    def run(self) -> Path:
        """Lock, control address and log file of the background process."""
        return self.folder / "run"

    @property
    def control(self) -> Path:
        """Where the running companion is reached, and with which key."""
        return self.run / "control.json"

    def create(self) -> "Home":
        """Make the folder, private to the user.

        Raises CompanionError when the disk does not let us.
        """
        private_folder(self.folder)
        return self


def rescue_beside(log: Path) -> Path:
    """Return the place of the rescue file of the session log at `log`."""
    return log.with_name(f"{log.stem}-rescue.jsonl")


def private_folder(folder: Path) -> Path:
    """Make `folder` with its parents and keep it to the user (0700).

    Raises CompanionError when the disk does not let us.
    """
    try:
        there = folder.is_dir()
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not access.ACCESS_LISTS:
            keep_to_user(folder)
        elif not there:
            # Where Windows refuses, `companion doctor` tells who can read the folder.
            with suppress(OSError):
                keep_to_user(folder)
    except OSError as error:
        raise CompanionError(
            _("The folder {folder} can't be written ({strerror}).", folder=folder, strerror=error.strerror),
            safe=_("Nothing recorded was changed."),
            remedy=_("Free or unlock the disk, or name another folder with --home."),
        ) from error
    return folder


def replace_file(path: Path, content: bytes, *, synced: bool = True) -> None:
    """Put `content` in the place of the file `path`, private to the user (0600).

    A power cut leaves the old file or the new one; unless `synced`, it may leave an empty one, too. Raises
    OSError, with the file as it was, when the disk does not take it.
    """
    descriptor, beside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
            file.flush()
            if synced:
                os.fsync(file.fileno())
        _put(Path(beside), path)
    finally:
        Path(beside).unlink(missing_ok=True)


def _put(fresh: Path, path: Path) -> None:
    """Move `fresh` into the place of `path`; Windows refuses that as long as somebody reads what is there."""
    end_s = time.monotonic() + FREE_WITHIN_S
    while True:
        try:
            fresh.replace(path)
        except PermissionError:
            if os.name != "nt" or time.monotonic() > end_s:
                raise
            time.sleep(0.01)
        else:
            return


def sqlite_uri(path: Path, mode: str) -> str:
    """Return the URI by which SQLite opens `path`; mode as in `ro`.

    All is escaped: in a usual URI of a file on a Windows share SQLite takes the server for an authority.
    """
    return f"file:{quote(str(path.absolute()), safe='')}?mode={mode}"


def default_home() -> Home:
    """Return the folder that the operating system sets aside for this user's data."""
    return Home(user_data_path("lesson-companion", appauthor=False))


def bundled(name: str) -> Path:
    """Return a folder that comes with the program: `sample_sessions` or `models`.

    In an installed package it lies inside the package, in a checkout beside it.
    """
    package = Path(__file__).parent
    inside = package / "_bundled" / name
    return inside if inside.is_dir() else package.parent / name
