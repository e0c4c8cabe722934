"""Bars drawn as SVG: beside each other, one upon the other, or lying.

Written out as text, since a drawing library took fifty milliseconds for the three charts of a page.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from html import escape

WIDTH, HEIGHT, ROW = 1100, 320, 44
EDGE, LETTER, LINE = 12, 8.5, 26
"""Free space at the edges, how wide a letter may be, and how high a line of the legend is."""
TICKS = 6
"""At most so many guides, beside that at nought."""
WIDEST = 90
"""No bar is wider, however few there are."""


@dataclass(frozen=True, slots=True)
class Series:
    """Bars that are told apart from others by one ink."""

    name: str
    values: Sequence[float | None]
    """One a label; None: nothing to draw there."""
    ranges: Sequence[tuple[float, float] | None] = ()
    """In what range each value truly lies."""


@dataclass(frozen=True)
class Bars:
    """What is to be drawn. Where things lie is worked out once."""

    look: str
    """The name by which a style sheet knows it."""
    labels: Sequence[str]
    series: Sequence[Series]
    most: float | None = None
    """Where the scale ends; None: where the bars do."""
    lying: bool = False
    """Bars lie beneath each other, those of one label side by side; else one stands upon the other."""
    legend: bool = True
    nothing: str = ""
    """What is said where there is no label."""

    @cached_property
    def written(self) -> tuple[int, ...]:
        """The places of the labels that are written: all, or every so many, so that none meets the next."""
        if self.lying:
            return tuple(range(len(self.labels)))
        longest = max((len(label) for label in self.labels), default=1)
        left, right = self.across
        every = max(1, math.ceil(len(self.labels) * (longest + 1) * LETTER / (right - left)))
        return tuple(range(0, len(self.labels), every))

    @cached_property
    def end(self) -> float:
        """Where the scale ends, at a guide."""
        if self.most is not None:
            return self.most
        values = [[value or 0 for value in one.values] for one in self.series]
        sums = map(max, values) if self.lying else map(sum, zip(*values, strict=True))
        most = max(sums, default=0)
        step = _step(most)
        return step * max(1, math.ceil(most / step))

    @cached_property
    def across(self) -> tuple[float, float]:
        """From where to where it is drawn, from left to right."""
        names = self.labels if self.lying else [f"{self.end:g}"]
        wide = max((len(name) for name in names), default=1) * LETTER
        return EDGE + wide + LETTER, WIDTH - 2 * EDGE

    @cached_property
    def legend_lines(self) -> list[list[tuple[float, int]]]:
        """Where each name of the legend begins, with its number, line by line."""
        lines: list[list[tuple[float, int]]] = []
        at = math.inf
        for number, one in enumerate(self.series if self.legend else ()):
            wide = 28 + (len(one.name) + 2) * LETTER
            if at + wide > WIDTH - EDGE:
                lines.append([])
                at = self.across[0]
            lines[-1].append((at, number))
            at += wide
        return lines

    @cached_property
    def height(self) -> float:
        """How high the picture is."""
        beneath = LINE * len(self.legend_lines)
        return beneath + (2 * EDGE + LINE + ROW * len(self.labels) if self.lying else HEIGHT)

    @cached_property
    def down(self) -> tuple[float, float]:
        """From where to where bars are drawn, from the top."""
        return float(EDGE), self.height - EDGE - LINE * (1 + len(self.legend_lines))


def _step(most: float) -> int:
    """Return a round step of whole numbers, of which at most `TICKS` reach `most`."""
    power = int(10 ** max(0, math.floor(math.log10(max(most, 1) / TICKS))))
    return next(step * power for step in (1, 2, 5, 10, 20) if most <= TICKS * step * power)


def svg(bars: Bars, *, style: str = "", title: str = "") -> str:
    """Return the picture. Without a style of its own it has that of the page, and is hidden from readers.

    style: rules for a picture that stands alone. title: written above it.
    """
    above = LINE + EDGE if title else 0
    size = f'width="{WIDTH}" height="{_n(bars.height + above)}" ' if style else 'aria-hidden="true" '
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {size}class="chart {bars.look}"'
        f' viewBox="0 {-above} {WIDTH} {_n(bars.height + above)}">',
        f"<title>{escape(title)}</title><style>{style}</style>" if style else "",
        f'<rect class="background" x="0" y="{-above}" width="{WIDTH}" height="{_n(bars.height + above)}"/>',
        _text(WIDTH / 2, -EDGE / 2, title, "title") if title else "",
        *(_drawn(bars) if bars.labels else [_text(WIDTH / 2, HEIGHT / 2, bars.nothing, "axis x")]),
        "</svg>",
    ]
    return "".join(parts)


def _drawn(bars: Bars) -> Iterator[str]:
    yield from _guides(bars)
    for number, one in enumerate(bars.series):
        yield f'<g class="color-{number}">'
        yield from _lying(bars, number, one) if bars.lying else _standing(bars, number, one)
        yield "</g>"
    yield from _labels(bars)
    for line, names in enumerate(bars.legend_lines):
        y = bars.height - EDGE - LINE * (len(bars.legend_lines) - line - 1)
        for x, number in names:
            yield f'<rect class="rect color-{number}" x="{_n(x)}" y="{_n(y - 15)}" width="16" height="16"/>'
            yield _text(x + 24, y, bars.series[number].name, "legend")


def _along(bars: Bars, value: float) -> float:
    """Return where a value lies on the scale."""
    low, high = bars.across if bars.lying else reversed(bars.down)
    return low + (high - low) * value / bars.end


def _guides(bars: Bars) -> Iterator[str]:
    (left, right), (top, bottom), step = bars.across, bars.down, _step(bars.end)
    for count in range(math.floor(bars.end / step) + 1):
        at, kind = _along(bars, count * step), "guide" if count else "line"
        if bars.lying:
            yield f'<path class="{kind}" d="M{_n(at)} {_n(top)}V{_n(bottom)}"/>'
            yield _text(at, bottom + 18, f"{count * step:g}", "axis x")
        else:
            yield f'<path class="{kind}" d="M{_n(left)} {_n(at)}H{_n(right)}"/>'
            yield _text(left - LETTER, at + 5, f"{count * step:g}", "axis y")


def _labels(bars: Bars) -> Iterator[str]:
    (left, right), (top, bottom) = bars.across, bars.down
    for at in bars.written:
        if bars.lying:
            yield _text(left - LETTER, top + ROW * (at + 0.5) + 5, bars.labels[at], "axis y")
        else:
            middle = left + (right - left) * (at + 0.5) / len(bars.labels)
            yield _text(middle, bottom + 20, bars.labels[at], "axis x")


def _standing(bars: Bars, number: int, one: Series) -> Iterator[str]:
    left, right = bars.across
    band = (right - left) / len(bars.labels)
    wide = min(0.8 * band, WIDEST)
    for at, value in enumerate(one.values):
        if value is None:
            continue
        under = sum(other.values[at] or 0 for other in bars.series[:number])
        middle, foot, head = left + band * (at + 0.5), _along(bars, under), _along(bars, under + value)
        if value:
            yield _rect(middle - wide / 2, head, wide, foot - head)
        between = one.ranges[at] if one.ranges else None
        if between:
            low, high = (_n(_along(bars, end)) for end in between)
            ends = f"{_n(middle - 6)} {{}}H{_n(middle + 6)}"
            yield (
                f'<path class="range" d="M{ends.format(low)}M{_n(middle)} {low}V{high}M{ends.format(high)}"/>'
            )


def _lying(bars: Bars, number: int, one: Series) -> Iterator[str]:
    high = 0.8 * ROW / len(bars.series)
    left, top = bars.across[0], bars.down[0] + 0.1 * ROW + high * number
    for at, value in enumerate(one.values):
        if value:
            yield _rect(left, top + ROW * at, _along(bars, value) - left, high)


def _rect(x: float, y: float, width: float, height: float) -> str:
    size = f'width="{_n(width)}" height="{_n(height)}"'
    return f'<rect class="rect" x="{_n(x)}" y="{_n(y)}" {size}/>'


def _text(x: float, y: float, words: str, look: str) -> str:
    return f'<text class="{look}" x="{_n(x)}" y="{_n(y)}">{escape(words)}</text>'


def _n(number: float) -> str:
    return f"{number:.1f}".removesuffix(".0")
