"""Looks whether a lesson can be held, one thing after the other, while the page shows what is found."""

import threading

from companion.errors import CompanionError
from companion.language import later
from companion.pages.house import Finding, House, Verdict


class Examination:
    """Begins at once; what is found is added as soon as it is known."""

    step = "ready"

    def __init__(self, house: House) -> None:
        self.findings: tuple[Finding, ...] = ()
        self.over = False
        self._house = house
        self._left = False
        threading.Thread(target=self._run, name="examination", daemon=True).start()

    @property
    def can_be_held(self) -> bool:
        """Whether a lesson can be held, as far as is known."""
        return not any(finding.verdict is Verdict.BAD for finding in self.findings)

    @property
    def stamp(self) -> str:
        """What changes with each finding."""
        return f"{len(self.findings)}-{self.over}"

    @property
    def level_dbfs(self) -> float | None:
        """No level is shown."""
        return None

    def rest(self) -> None:
        """Look at nothing more."""
        self._left = True

    def _run(self) -> None:
        try:
            for finding in self._house.examine():
                self.findings = (*self.findings, finding)
                if self._left:
                    break
        except CompanionError as error:
            self.findings = (
                *self.findings,
                Finding(later("examination"), Verdict.BAD, error.what, error.remedy),
            )
        self.over = True
