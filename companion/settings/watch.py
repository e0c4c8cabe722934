"""The settings file while the companion runs: read again when it changes, and kept out while it is wrong."""

from pathlib import Path

from companion.errors import CompanionError
from companion.language import _
from companion.settings.settings import Settings, load_settings


class SettingsWatch:
    """The newest settings that can be used. A file that can't be used changes nothing but `trouble`."""

    def __init__(self, path: Path) -> None:
        """Read the settings for the first time. Raises CompanionError if they can't be used."""
        self._path = path
        self._stamp = _stamp(path)
        self.settings = load_settings(path)
        self.trouble = ""
        """Why the file as it is now can't be used, and what to do; empty when it can."""

    def look(self) -> Settings:
        """Read the file if it was changed since the last look; return the newest usable settings."""
        # The stamp is older than the text, so that a change in between is seen at the next look.
        before, self._stamp = self._stamp, _stamp(self._path)
        if self._stamp != before:
            try:
                self.settings, self.trouble = load_settings(self._path), ""
            except CompanionError as error:
                self.trouble = f"{error.what} {error.remedy}".strip()
        return self.settings

    def news(self, in_use: Settings) -> str:
        """Say why the settings `in_use` are not those of the file; "" if they are."""
        if self.trouble:
            return _(
                "The settings of before are in use, since the changed ones can't be: {trouble}",
                trouble=self.trouble,
            )
        if self.settings != in_use:
            return _("The changed settings are taken up when this lesson is closed.")
        return ""


def _stamp(path: Path) -> tuple[int, int, int] | None:
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_ino, status.st_mtime_ns, status.st_size
