"""What a person types after an option, and what is said when it is not that."""

import math
from datetime import datetime

import click

from companion.language import _, later


class GivenDate(click.ParamType[datetime]):
    """A date as in 2026-09-14; its midnight by the computer's own zone."""

    name = later("date")

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> datetime:
        """Return the beginning of the day."""
        if isinstance(value, datetime):
            return value
        try:
            return datetime.strptime(str(value), "%Y-%m-%d").astimezone()
        except ValueError:
            self.fail(
                _("'{value}' is no date. Write year, month and day, as in 2026-09-14.", value=value),
                param,
                ctx,
            )


class GivenSeconds(click.ParamType[float]):
    """Seconds, zero or more."""

    name = later("seconds")

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the seconds."""
        try:
            seconds = float(str(value))
        except ValueError:
            seconds = math.nan
        if not math.isfinite(seconds) or seconds < 0:
            self.fail(_("'{value}' is no time. Write seconds, as in 90 or 90.5.", value=value), param, ctx)
        return seconds


class GivenUnseen(click.ParamType[str]):
    """A text about a child. What stands on a command line other users can read while the command runs."""

    name = later("text")
    ASK = "-"
    """Stands for it, and asks for it."""

    def __init__(self, question: str) -> None:
        """question: what is asked, made with `later`."""
        self._question = question

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> str:  # noqa: ARG002 - click's own
        """Return the text, or what is typed, or comes by a pipe, where it is asked for."""
        return str(click.prompt(_(self._question), err=True)) if value == self.ASK else str(value)
