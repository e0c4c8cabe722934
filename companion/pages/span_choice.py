"""Which weeks a page of history looks at, as its address says."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from urllib.parse import urlencode

from companion.errors import CompanionError
from companion.language import _, later
from companion.log.weeks import Unit, Within
from companion.settings.settings import GradingPeriodSection

WEEKS = {
    "4": later("4 weeks"),
    "12": later("12 weeks"),
    "40": later("a school year"),
    "": later("all time"),
}
"""What can be looked at beside grading periods: value in the address and words."""
USUAL = "12"
MONTHLY_FROM, BY_HALF_YEAR_FROM = timedelta(weeks=26), timedelta(weeks=104)
"""A longer span is told by month, and by half-year."""


@dataclass(frozen=True, slots=True)
class SpanChoice:
    """What was chosen, and which lessons that means."""

    within: Within
    chosen: str
    """A key of `WEEKS`, the name of a grading period, or "days"."""
    choices: Mapping[str, str]
    last: date
    """The last day of which something can be told."""

    def unit(self, begins: date | None) -> Unit:
        """Return what lessons are told by, so that all can be seen at once. begins: day of the first one."""
        span = self.last - (begins or self.last)
        if span > BY_HALF_YEAR_FROM:
            return Unit.HALF_YEAR
        return Unit.MONTH if span > MONTHLY_FROM else Unit.WEEK

    @property
    def address(self) -> str:
        """The choice as a query string."""
        query = {"class_group": self.within.class_group or "", "weeks": self.chosen}
        if self.chosen == "days":
            # An end that was left open stays so.
            query |= {"from": self.within.since.removeprefix("0000")}
            query |= {"to": self.within.until.removeprefix("9999")}
        if self.within.guests:
            query["guests"] = "yes"
        return urlencode(query)


def span_choice(
    query: Mapping[str, str], periods: tuple[GradingPeriodSection, ...], today: date
) -> SpanChoice:
    """Read the choice of an address. Raises CompanionError if its days are none, or in the wrong order."""
    choices = WEEKS | {period.name: period.name for period in periods} | {"days": later("the days below")}
    asked = query.get("weeks", USUAL)
    chosen = asked if asked in choices else USUAL
    first, last = _days(chosen, query, periods, today)
    within = Within(
        query.get("class_group") or None,
        first.isoformat() if first else "0000",
        last.isoformat() if last else "9999",
        query.get("guests") == "yes",
    )
    return SpanChoice(within, chosen, choices, min(last or today, today))


def _days(
    chosen: str, query: Mapping[str, str], periods: tuple[GradingPeriodSection, ...], today: date
) -> tuple[date | None, date | None]:
    if chosen == "days":
        first, last = _day(query.get("from", "")), _day(query.get("to", ""))
        if first and last and first > last:
            raise CompanionError(
                _("The first day lies after the last one."), remedy=_("Exchange the two days.")
            )
        return first, last
    for period in periods:
        if period.name == chosen:
            return period.begins, period.ends
    return (today - timedelta(weeks=int(chosen)), None) if chosen else (None, None)


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise CompanionError(
            _("“{text}” is no day.", text=text[:40]), remedy=_("Write it as in 2026-09-14.")
        ) from None
