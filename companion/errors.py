"""The one error that a user can meet."""


class CompanionError(Exception):
    """Something went wrong that the user can understand and mend.

    The command line prints it in one or two plain sentences, without a traceback, and leaves with
    `exit_code`; a page shows the same sentences.

    what: what happened.
    safe: what is safe all the same ("" when nothing was at risk).
    remedy: what to do now.
    """

    exit_code = 2

    def __init__(self, what: str, *, safe: str = "", remedy: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.safe = safe
        self.remedy = remedy

    def __str__(self) -> str:
        return " ".join(part for part in (self.what, self.safe, self.remedy) if part)
