"""Bars as SVG."""

import re
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.pages.bars import EDGE, HEIGHT, WIDTH, Bars, Series, svg

COUNTS = st.lists(st.integers(0, 12_000), min_size=1, max_size=30)


def _bars(drawing: str) -> list[dict[str, float]]:
    """Return places and sizes of the bars in a drawing, as they come."""
    found = re.findall(r'<rect class="rect" x="(\S+)" y="(\S+)" width="(\S+)" height="(\S+)"', drawing)
    return [dict(zip(("x", "y", "width", "height"), map(float, one), strict=True)) for one in found]


@given(COUNTS, st.booleans())
def test_bars_are_as_long_as_their_numbers_say(counts: list[int], lying: bool) -> None:
    """Within a tenth of what is drawn, all within the picture; what is nought is not drawn."""
    bars = Bars("phases", [f"label {at}" for at in range(len(counts))], [Series("", counts)], lying=lying)
    low, high = bars.across if lying else bars.down
    drawn = _bars(svg(bars))
    lengths = [one["width" if lying else "height"] for one in drawn]
    whole = (high - low) / bars.end
    assert lengths == pytest.approx([count * whole for count in counts if count], abs=0.1)
    assert all(one["x"] >= 0 and one["x"] + one["width"] <= WIDTH for one in drawn)
    assert all(one["y"] >= 0 and one["y"] + one["height"] <= bars.height for one in drawn)


def test_bars_stand_one_upon_the_other() -> None:
    """The foot of each is the head of the one beneath, and all together fit the scale."""
    lower, upper = _bars(svg(Bars("x", ["Monday"], [Series("a", [3]), Series("b", [4])])))
    assert upper["y"] + upper["height"] == pytest.approx(lower["y"], abs=0.1)
    assert upper["y"] >= EDGE


@given(st.integers(0, 100_000))
def test_a_scale_ends_at_a_round_number_of_guides(most: int) -> None:
    """Whole numbers, none twice, at most six above nought; the longest bar reaches the last but one."""
    drawn = svg(Bars("x", ["Monday"], [Series("", [most])]))
    ticks = [float(tick) for tick in re.findall(r'<text class="axis y"[^>]*>([^<]+)</text>', drawn)]
    assert ticks == sorted(set(ticks))
    assert all(tick == int(tick) for tick in ticks)
    assert 2 <= len(ticks) <= 7
    assert ticks[-2] <= max(most, 0) <= ticks[-1]


def test_where_a_value_truly_lies_is_drawn_about_its_head() -> None:
    """From the lower to the upper end; where there is no value nothing is drawn."""
    series = Series("", [50.0, None], [(40.0, 70.0), None])
    bars = Bars("share", ["a", "b"], [series], most=100)
    drawing = svg(bars)
    top, bottom = bars.down
    (low, high) = re.findall(r'class="range" d="M\S+ \S+M\S+ (\S+)V(\S+?)M', drawing)[0]
    assert float(low) == pytest.approx(bottom - 0.4 * (bottom - top), abs=0.1)
    assert float(high) == pytest.approx(bottom - 0.7 * (bottom - top), abs=0.1)
    assert len(_bars(drawing)) == drawing.count('class="range"') == 1


def test_words_are_words_whatever_is_in_them() -> None:
    """Names of phases and levels are a teacher's own; the picture stays one, and says them."""
    name = '<b>"Tools" & more</b>'
    drawn = svg(Bars("x", [name], [Series(name, [1])]), style="text { fill: red; }", title=name)
    texts = [
        text.text for text in ElementTree.fromstring(drawn).iter() if (text.text or "").startswith("<b>")
    ]
    assert texts == [name] * 4


@pytest.mark.parametrize("lying", [False, True])
def test_without_a_lesson_it_says_so(lying: bool) -> None:
    """And draws neither bar nor scale."""
    drawn = svg(Bars("x", [], [], nothing="No lesson yet", lying=lying))
    assert "No lesson yet" in drawn
    assert '<rect class="rect' not in drawn


@pytest.mark.parametrize(
    "names", [["Green row", "none"], ["Basket", "Row", "Sprout", "Leaf", "A long name"] * 4]
)
def test_the_legend_of_a_chart_is_not_cut_off(names: list[str]) -> None:
    """Its last line ends within the picture, be it one line or several."""
    bars = Bars("x", ["23 Nov"], [Series(name, [1]) for name in names])
    places = re.findall(r'<text class="legend" x="(\S+)" y="(\S+)"', svg(bars))
    assert len(places) == len(names)
    assert all(float(y) <= bars.height - EDGE and float(x) < WIDTH for x, y in places)
    assert bars.height >= HEIGHT
