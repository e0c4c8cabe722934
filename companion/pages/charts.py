"""Charts of history as SVG, drawn on the server; on a page their inks come from the pages' style sheet."""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from xml.etree.ElementTree import Element

from markupsafe import Markup
from pygal import Bar, HorizontalBar, StackedBar
from pygal.graph.graph import Graph
from pygal.style import Style

from companion.language import _
from companion.lesson.chance import Share, share
from companion.lesson.day_words import SHORT_MONTHS, month_day, short_month
from companion.log.weeks import Earned, Unit
from companion.weeks.coverage import Coverage

PAPER = Style(font_family="inherit", label_font_size=15, major_label_font_size=15, legend_font_size=16)
"""Sizes only: pygal measures by them. Colours are in `pages.css`."""
FILE_LOOK = {
    "background": "#fffcf3",
    "plot_background": "#fffcf3",
    "foreground": "#1c2827",
    "foreground_strong": "#1c2827",
    "foreground_subtle": "#4f5a55",
    "opacity": 1,
    "font_family": "sans-serif",
    "label_font_size": 15,
    "major_label_font_size": 15,
    "legend_font_size": 16,
    "title_font_size": 18,
}
"""How a chart looks that is kept as a file of its own, but for its inks."""
FILE = Style(
    **FILE_LOOK, colors=("#1f5a4b", "#a3d8bb", "#6a4c31", "#cfae8b", "#8c2552", "#f3a8ca", "#4f5a55")
)
BEET_AND_FERN = Style(**FILE_LOOK, colors=("#8c2552", "#1f5a4b"))
NOT_OURS = ("style", "script", "title", "desc")
TOOLTIPS = "plot tooltip-overlay"
LABELS, LETTER = 1040, 8.5
"""How wide all labels of spans, and how wide a letter of them may be."""
WIDTH, HEIGHT, ROW = 1100, 320, 44


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


def recognitions_chart(spans: Sequence[Span], recognitions: Sequence[str]) -> Graph:
    """Return how often each of `recognitions` was earned in each span, one upon the other."""
    chart = StackedBar(**_look("recognitions", HEIGHT) | {"margin_bottom": 34}, order_min=0)
    _write_labels(chart, spans)
    for recognition in recognitions:
        chart.add(recognition or _("none"), [span.sessions.get(recognition, 0) for span in spans])
    return chart


def share_chart(spans: Sequence[Span]) -> Graph:
    """Return the share of praise among the marks of each span, in percent, with its interval."""
    chart = Bar(**_look("share", HEIGHT), range=(0, 100), show_legend=False)
    _write_labels(chart, spans)
    points = [span.share for span in spans]
    chart.add(
        _("praise among all marks"),
        [
            {
                "value": round(100 * part.value, 1),
                "ci": {"low": round(100 * part.low, 1), "high": round(100 * part.high, 1)},
            }
            if part.total
            else None
            for part in points
        ],
    )
    return chart


def phases_chart(phases: Sequence[Coverage]) -> Graph:
    """Return praise and reminders by phase, in the order of the lesson from the top."""
    chart = HorizontalBar(**_look("phases", 110 + ROW * len(phases)) | {"margin_bottom": 34}, order_min=0)
    upward = list(reversed(phases))
    chart.x_labels = [phase.phase for phase in upward]
    chart.add(_("reminder"), [phase.reminder for phase in upward])
    chart.add(_("praise"), [phase.praise for phase in upward])
    return chart


def _look(name: str, height: int) -> dict[str, object]:
    return {
        "style": PAPER,
        "js": [],
        "css": [],
        "classes": ("chart", name),
        "width": WIDTH,
        "height": height,
        "explicit_size": False,
        "disable_xml_declaration": True,
        "legend_at_bottom": True,
        "legend_at_bottom_columns": 4,
        "margin_bottom": 12,
        "print_values": False,
        "show_y_guides": True,
        "no_data_text": _("No lesson yet"),
        "truncate_legend": -1,
        "truncate_label": -1,
        "value_formatter": "{:g}".format,
        "margin_top": 12,
        "margin_left": 12,
        "margin_right": 12,
    }


def _write_labels(chart: Graph, spans: Sequence[Span]) -> None:
    longest = max((len(span.label) for span in spans), default=1)
    every = max(1, math.ceil(len(spans) * longest * LETTER / LABELS))
    chart.x_labels = [span.label for span in spans]
    chart.x_labels_major = [span.label for span in spans][::every]
    chart.show_minor_x_labels = False


def drawn(chart: Graph) -> Markup:
    """Return the chart without the style and script that pygal puts in: the pages allow neither."""
    chart.add_xml_filter(_bare)
    return Markup(chart.render(is_unicode=True))  # noqa: S704 - pygal escapes what it is given


def _bare(root: Element) -> Element:
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag in NOT_OURS or callable(child.tag) or child.get("class") == TOOLTIPS:
                parent.remove(child)
        # The same in every chart, where a page has several.
        parent.attrib.pop("id", None)
    root.set("aria-hidden", "true")
    return root


def chart_file(chart: Graph, title: str) -> str:
    """Return the chart as an SVG file that stands alone, with its title and its own inks."""
    chart.config.style = BEET_AND_FERN if "phases" in chart.config.classes else FILE
    chart.config.css = ["file://style.css", "file://graph.css"]
    chart.config.title = title
    chart.config.explicit_size = True
    chart.config.disable_xml_declaration = False
    chart.add_xml_filter(_without_scripts)
    return str(chart.render(is_unicode=True))


def _without_scripts(root: Element) -> Element:
    for parent in list(root.iter()):
        for child in list(parent):
            if callable(child.tag) or child.tag == "script" or child.get("class") == TOOLTIPS:
                parent.remove(child)
    return root
