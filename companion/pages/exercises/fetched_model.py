"""A speech model that is being fetched, checked and installed."""

import threading
from contextvars import copy_context
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _
from companion.models.install import get_model
from companion.models.manifest import ModelEntry

STEP = "models"
MEGABYTE = 1_000_000


class FetchedModel:
    """Begins to fetch at once, and goes on unseen; how far it has come can be looked at."""

    step = STEP

    def __init__(self, entry: ModelEntry, models: Path) -> None:
        self.name = entry.name
        self.goes_on = True
        self.told = ""
        """What came of it."""
        self.trouble: CompanionError | None = None
        self._have, self._total = 0, entry.archive_bytes
        self._entry, self._models = entry, models
        # In a context of its own it tells what came of it in the language of who asked for it.
        work = threading.Thread(
            target=copy_context().run, args=(self._run,), name="speech model", daemon=True
        )
        work.start()

    @property
    def share(self) -> float | None:
        """How much of it (0 to 1) is here; None where the server does not say how much there is."""
        return self._have / self._total if self._total else None

    @property
    def have_mb(self) -> int:
        """How many megabytes of it are here."""
        return self._have // MEGABYTE

    @property
    def stamp(self) -> str:
        """What changes with each hundredth, or each megabyte."""
        share = self.share
        return f"{self.have_mb if share is None else round(share, 2)}-{self.goes_on}"

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
        finally:
            self.goes_on = False

    def _report(self, have: int, total: int | None) -> None:
        self._have, self._total = have, total
