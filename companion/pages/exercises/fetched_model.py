"""A speech model that is being fetched, checked and installed."""

import threading
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _
from companion.models.install import get_model
from companion.models.manifest import ModelEntry

STEP = "models"


class FetchedModel:
    """Begins to fetch at once, and goes on unseen; how far it has come can be looked at."""

    step = STEP

    def __init__(self, entry: ModelEntry, models: Path) -> None:
        self.name = entry.name
        self.done = 0.0
        """The share (0 to 1) that is here."""
        self.told = ""
        """What came of it."""
        self.trouble: CompanionError | None = None
        self._entry, self._models = entry, models
        threading.Thread(target=self._run, name="speech model", daemon=True).start()

    @property
    def stamp(self) -> str:
        """What changes with each hundredth."""
        return f"{self.done:.2f}-{self.told}-{self.trouble}"

    @property
    def level_dbfs(self) -> float | None:
        """No microphone is open."""
        return None

    def rest(self) -> None:
        """Go on all the same: no microphone is open, and what has arrived is kept."""

    def _run(self) -> None:
        try:
            done = get_model(self._entry, self._models, self._report)
        except CompanionError as error:
            self.trouble = error
        else:
            self.told = _("{name} is installed. Its checksum: {trust}.", name=self.name, trust=done.trust)

    def _report(self, have: int, total: int | None) -> None:
        self.done = have / total if total else 0.0
