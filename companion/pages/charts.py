"""The charts of history; on a page their inks come from the pages' style sheet."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from markupsafe import Markup

from companion.language import _
from companion.lesson.chance import Share, share
from companion.lesson.day_words import SHORT_MONTHS, month_day, short_month
from companion.log.weeks import Earned, Unit
from companion.pages.bars import Bars, Series, svg
from companion.weeks.coverage import Coverage

FILE_INKS = {
    "share": ("#a3d8bb",),
    "recognitions": ("#1f5a4b", "#a3d8bb", "#6a4c31", "#cfae8b", "#8c2552", "#f3a8ca", "#4f5a55"),
    "phases": ("#1f5a4b", "#8c2552"),
}
FILE_LOOK = """
text { font: 15px sans-serif; fill: #1c2827; } .background { fill: #fffcf3; } .rect { stroke: #1c2827; }
.guide { stroke: #cfc8b4; fill: none; } .line { stroke: #4f5a55; fill: none; }
.range { stroke: #1c2827; stroke-width: 2; fill: none; }
.x, .title { text-anchor: middle; } .y { text-anchor: end; } .title { font-size: 18px; }
"""
"""How a chart looks that is kept as a file of its own, but for its inks."""


@dataclass(frozen=True, slots=True)
class Span:
    """One week, month or half-year of lessons."""

    label: str
    sessions: Mapping[str, int]
    """How often each recognition was earned."""
    praise: int
    reminder: int

    @property
    def share(self) -> Share:
        """Praise among all marks."""
        return share(self.praise, self.praise + self.reminder)


def spans_of(rows: Sequence[Earned], unit: Unit) -> tuple[Span, ...]:
    """Return the stretches of time that `rows` tell of, oldest first."""
    spans: dict[str, list[Earned]] = {}
    for row in rows:
        spans.setdefault(row.begins, []).append(row)
    return tuple(
        Span(
            _label(date.fromisoformat(begins), unit),
            {row.recognition: row.sessions for row in same},
            sum(row.praise for row in same),
            sum(row.reminder for row in same),
        )
        for begins, same in spans.items()
    )


def recognitions_of(rows: Sequence[Earned]) -> tuple[str, ...]:
    """Return the recognitions in `rows`, the one that took the greatest margins first, none ("") last."""
    margins: Counter[str] = Counter()
    sessions: Counter[str] = Counter()
    for row in rows:
        margins[row.recognition] += row.praise - row.reminder
        sessions[row.recognition] += row.sessions
    return tuple(sorted(sessions, key=lambda name: (not name, -margins[name] / sessions[name], name)))


def _label(begins: date, unit: Unit) -> str:
    match unit:
        case Unit.WEEK:
            return month_day(begins)
        case Unit.MONTH:
            return short_month(begins)
        case Unit.HALF_YEAR:
            last = 6 if begins.month == 1 else 12
            return _(
                "{short_month}–{last_month} {year}",
                short_month=_(SHORT_MONTHS[begins.month - 1]),
                last_month=_(SHORT_MONTHS[last - 1]),
                year=begins.year,
            )


def recognitions_chart(spans: Sequence[Span], recognitions: Sequence[str]) -> Bars:
    """Return how often each of `recognitions` was earned in each span, one upon the other."""
    return Bars(
        "recognitions",
        [span.label for span in spans],
        [Series(name or _("none"), [span.sessions.get(name, 0) for span in spans]) for name in recognitions],
        nothing=_("No lesson yet"),
    )


def share_chart(spans: Sequence[Span]) -> Bars:
    """Return the share of praise among the marks of each span, in percent, with its interval."""
    parts = [span.share for span in spans]
    return Bars(
        "share",
        [span.label for span in spans],
        [
            Series(
                _("praise among all marks"),
                [100 * part.value if part.total else None for part in parts],
                [(100 * part.low, 100 * part.high) if part.total else None for part in parts],
            )
        ],
        most=100,
        legend=False,
        nothing=_("No lesson yet"),
    )


def phases_chart(phases: Sequence[Coverage]) -> Bars:
    """Return praise and reminders by phase, in the order of the lesson from the top."""
    return Bars(
        "phases",
        [phase.phase for phase in phases],
        [
            Series(_("praise"), [phase.praise for phase in phases]),
            Series(_("reminder"), [phase.reminder for phase in phases]),
        ],
        lying=True,
        nothing=_("No lesson yet"),
    )


def drawn(chart: Bars) -> Markup:
    """Return the chart as it stands on a page, with the page's inks."""
    return Markup(svg(chart))  # noqa: S704 - what is written in it is escaped


def chart_file(chart: Bars, title: str) -> str:
    """Return the chart as an SVG file that stands alone, with its title and its own inks."""
    inks = FILE_INKS[chart.look]
    # More series than inks begin anew.
    ink = "".join(
        f".color-{at} .rect, .color-{at}.rect {{ fill: {inks[at % len(inks)]}; }}"
        for at in range(len(chart.series))
    )
    return svg(chart, style=FILE_LOOK + ink, title=title)
