"""Obstacles, panels, cards, claims, checks and crossings as they are drawn: order, marks, words, one axis."""

from __future__ import annotations

import dataclasses
import functools
import itertools
import re

import numpy as np
import pytest
from chart_samples import bars_of, pq, ranking, walk, words_of
from further_samples import FANS, checks, claims, numbered, obstacles, panel, panels

from stillroom.charts import frame
from stillroom.charts.bars import value_words
from stillroom.charts.control import _in_time
from stillroom.charts.curves import pens_of
from stillroom.charts.draw import UNPRINTABLE, set_page
from stillroom.charts.events import day_of
from stillroom.charts.fonts import BOX, printable
from stillroom.charts.further_series import Chart, CheckPoint, ClaimRow, Sign
from stillroom.charts.labels import apart
from stillroom.charts.layout import Layout
from stillroom.charts.palette import HUES, PALETTES, SHADES, Theme
from stillroom.charts.panels import kept
from stillroom.charts.plane import log_axis
from stillroom.charts.series import Bar
from stillroom.charts.table import table_of
from stillroom.errors import BadInput


@functools.cache
def drawn(chart: Chart, layout: Layout) -> str:
    return frame.plain_svg(set_page(chart, layout), Theme.LIGHT)


def said(svg: str) -> list[str]:
    return [each.words.replace("\u00a0", " ") for each in words_of(svg)]


def symbols(svg: str, label: str = "") -> list[tuple[str, float, float]]:
    """The point marks as drawn: what they say, and where."""
    return [
        (element.get("aria-label", ""), x, y)
        for element, x, y, _ in walk(svg)
        if element.get("aria-roledescription") == "point" and label in element.get("aria-label", "")
    ]


# --- obstacles ------------------------------------------------------------------------------------


@pytest.mark.parametrize("layout", list(Layout))
@pytest.mark.parametrize("count", [1, 3, 7])
def test_names_of_obstacles_stand_in_the_order_of_their_ends(layout: Layout, count: int) -> None:
    chart = obstacles(count, is_log=count > 3)
    words = [each for each in words_of(drawn(chart, layout)) if each.weight == 600]
    ends = sorted(chart.curves, key=lambda each: -each.drop[-1])
    found = [
        next(each for each in words if each.words == curve.short or f"({curve.short})" in each.words)
        for curve in ends
    ]
    assert [each.base for each in found] == sorted(each.base for each in found)
    assert len({each.base for each in found}) == count


def test_readings_are_drawn_on_both_kinds_of_axes_where_they_are() -> None:
    for is_log in (False, True):
        chart = obstacles(1, is_log=is_log)
        svg = drawn(chart, Layout.WIDE)
        dots = re.findall(r'class="mark-symbol[^>]*>(.*?)</g>', svg, flags=re.S)
        places = [
            tuple(map(float, each))
            for each in re.findall(r'<path transform="translate\(([\d.]+),([\d.]+)\)"', "".join(dots))
        ]
        assert len(places) == len(chart.curves[0].measured)
        xs, ys = np.array(places).T
        flows, drops = np.array(chart.curves[0].measured).T
        if is_log:
            flows, drops = np.log(flows), np.log(drops)
        assert np.corrcoef(xs, flows)[0, 1] == pytest.approx(1.0, abs=1e-6)
        assert np.corrcoef(ys, drops)[0, 1] == pytest.approx(-1.0, abs=1e-6)


def test_a_logarithmic_axis_stands_above_zero_with_ticks_at_1_2_and_5() -> None:
    made = log_axis(0.4, 70.0)
    assert made.ticks == (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
    assert made.share(0.4) == pytest.approx(0.0)
    assert made.share(70.0) == pytest.approx(1.0)
    assert made.share((0.4 * 70.0) ** 0.5) == pytest.approx(0.5)
    with pytest.raises(BadInput, match="above zero"):
        log_axis(0.0, 1.0)


def test_words_in_a_column_stand_apart_and_move_least() -> None:
    # Closed form: two words of height 2 wanted at one place part evenly; those with room stay where they are.
    assert apart([5.0, 5.0], [2.0, 2.0], 0.0, 100.0) == pytest.approx([4.0, 6.0])
    assert apart([50.0, 5.0, 5.0], [2.0, 2.0, 2.0], 0.0, 100.0) == pytest.approx([50.0, 4.0, 6.0])
    assert apart([0.0], [2.0], 0.0, 100.0) == pytest.approx([1.0])
    assert apart([99.9, 99.8], [2.0, 2.0], 0.0, 100.0) == pytest.approx([99.0, 97.0])
    rng = np.random.default_rng(3)
    for _ in range(50):
        wanted, heights = rng.uniform(0, 60, 9), rng.uniform(1, 5, 9)
        middles = np.array(apart(list(wanted), list(heights), -20.0, 120.0))
        order = np.argsort(middles)
        gaps = np.diff(middles[order]) - (heights[order][1:] + heights[order][:-1]) / 2
        assert gaps.min() > -1e-9
        moved = float(np.sum((middles - wanted) ** 2))
        for _ in range(40):  # no other arrangement in the same order moves them less
            other = middles + rng.normal(0, 0.3, 9)
            clear = np.diff(other[order]) - (heights[order][1:] + heights[order][:-1]) / 2
            if clear.min() >= 0:
                assert float(np.sum((other - wanted) ** 2)) >= moved - 1e-9


# --- panels and cards -----------------------------------------------------------------------------


@pytest.mark.parametrize("layout", list(Layout))
def test_panels_share_one_axis_and_one_order(layout: Layout) -> None:
    chart = panels()
    svg = drawn(chart, layout)
    bars = bars_of(svg)
    held = len(bars) // len(chart.panels)
    units = []
    for index, each in enumerate(chart.panels):
        own = bars[index * held : (index + 1) * held]
        bars_kept = kept(each.bars, held)
        names = [bar.words.split(":")[0] for bar in sorted(own, key=lambda bar: bar.middle)]
        assert names == [bar.label for bar in bars_kept]
        assert "Bracken" in names  # the fan under review is never left out
        units += [
            (drawn_bar.right - drawn_bar.left) / bar.value
            for drawn_bar, bar in zip(own, bars_kept, strict=True)
            if not bar.is_missing
        ]
    assert max(units) == pytest.approx(min(units), rel=2e-3)
    assert held >= 2
    assert held == len(FANS) or layout is Layout.SQUARE
    if held < len(FANS):
        assert any(f"{held} of {len(FANS)} fans" in words for words in said(svg))


@pytest.mark.parametrize("layout", [Layout.WIDE, Layout.ARTICLE, Layout.PHONE])
def test_each_panel_marks_those_that_may_be_its_best(layout: Layout) -> None:
    chart = panels()
    svg = drawn(chart, layout)
    diamonds = re.findall(r'<path d="M0,-1\.25[^>]*>', svg)
    assert len(diamonds) == sum(bar.is_leader_tied for each in chart.panels for bar in each.bars)
    assert any("◆ may be the best" in words for words in said(svg))
    assert any(words == "does not cross" for words in said(svg))


def test_panels_of_different_fans_are_refused() -> None:
    chart = panels()
    other = dataclasses.replace(chart.panels[1], bars=chart.panels[1].bars[::-1])
    with pytest.raises(BadInput, match="orders of fans"):
        set_page(dataclasses.replace(chart, panels=(chart.panels[0], other)), Layout.WIDE)


@pytest.mark.parametrize("layout", [Layout.WIDE, Layout.SQUARE])
def test_cards_of_a_series_share_one_axis_in_pixels(layout: Layout) -> None:
    one, two = panel("mesh", 1.0, 2), panel("dense", 0.5, 2)
    beside = (*one.bars, *two.bars)
    units = []
    for each in (one, two):
        card = dataclasses.replace(each, beside=beside)
        rows = sorted(bars_of(drawn(card, layout)), key=lambda row: row.middle)
        units += [(row.right - row.left) / bar.value for row, bar in zip(rows, card.bars, strict=True)]
    assert max(units) == pytest.approx(min(units), rel=1e-3)


def test_a_range_is_drawn_and_written_as_one() -> None:
    bar = Bar("Asphodel", 55.0, 33.0, 57.0, note="not unique", is_range=True)
    assert value_words(bar) == "33–57"
    chart = dataclasses.replace(ranking(3), bars=(*ranking(3).bars, bar))
    svg = drawn(chart, Layout.WIDE)
    assert "33–57" in said(svg)
    solid = next(row for row in bars_of(svg) if row.words.startswith("Asphodel"))
    first = next(row for row in bars_of(svg) if row.words.startswith(chart.bars[0].label))
    unit = (first.right - first.left) / chart.bars[0].value
    assert (solid.right - solid.left) / unit == pytest.approx(33.0, rel=1e-3)
    with pytest.raises(BadInput, match="a range without ends"):
        Bar("Asphodel", 55.0, None, None, is_range=True)


def test_a_legacy_bar_is_open_and_says_so() -> None:
    bar = Bar("Whin", 50.0, 48.0, 52.0, note="legacy number", is_legacy=True)
    svg = drawn(dataclasses.replace(ranking(2), bars=(*ranking(2).bars, bar)), Layout.WIDE)
    path = next(
        element for element, *_ in walk(svg)
        if element.get("aria-roledescription") == "bar" and "Whin" in element.get("aria-label", "")
    )  # fmt: skip
    assert path.get("fill") == PALETTES[Theme.LIGHT]["paper"]
    assert "legacy number" in said(svg)


# --- claims ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("layout", list(Layout))
def test_each_claim_says_its_verdict_and_has_its_own_shape(layout: Layout) -> None:
    chart = claims()
    svg = drawn(chart, layout)
    shown = [row for row in chart.rows if any(row.label in words for words in said(svg))]
    assert len(shown) >= 3
    for row in shown:
        start = row.verdict.split(",")[0].split(":")[0]
        assert any(start in words for words in said(svg)), row
    marks = symbols(svg, "measured")
    assert len(marks) == sum(row.ratio is not None for row in shown)
    left = len(chart.rows) - len(shown)
    assert not left or any(
        f"more claim{'s' if left > 1 else ''} in the table" in words for words in said(svg)
    )


def test_measured_marks_stand_where_their_ratio_says() -> None:
    chart = claims(4)
    marks = symbols(drawn(chart, Layout.ARTICLE), "measured")
    xs = np.array([x for _, x, _ in marks])
    ratios = np.array([row.ratio for row in chart.rows])
    assert np.corrcoef(xs, ratios)[0, 1] == pytest.approx(1.0, abs=1e-6)
    assert [words.split(":")[0] for words, *_ in marks] == [row.label for row in chart.rows]


def test_verdicts_differ_by_shape_not_by_colour_alone() -> None:
    shapes = [each.value for each in Sign if each is not Sign.UNCHECKED]
    assert len(set(shapes)) == len(shapes)


def test_a_claim_without_interval_is_refused_and_its_table_is_whole() -> None:
    with pytest.raises(BadInput, match="without an interval"):
        ClaimRow("Whin, speed", "outside", Sign.FAILS, "1", "2", "2", 90.0)
    table = table_of(claims())
    assert len(table.rows) == 6
    assert table.rows[0][4:7] == ("84.5", "82.0", "86.9")
    assert table.rows[4][4:7] == ("", "", "")


# --- checks ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("layout", list(Layout))
def test_checks_show_signals_events_and_where_limits_are_missing(layout: Layout) -> None:
    chart = checks()
    svg = drawn(chart, layout)
    found = symbols(svg)
    assert len(found) == len(chart.points)
    assert [x for _, x, _ in found] == sorted(x for _, x, _ in found)
    assert sum("outside 3 s" in words for words, *_ in found) == 1
    assert sum("limits not established" in words for words, *_ in found) == 20
    words = said(svg)
    assert any(each.startswith("outside 3 s") for each in words)
    assert any(each.startswith("leak test") for each in words)
    assert any(each.startswith("seal of") for each in words)


def test_before_ten_checks_the_chart_says_so() -> None:
    svg = drawn(checks(7), Layout.WIDE)
    assert any(words.startswith("limits not established: 7 of 10 checks") for words in said(svg))
    assert "EWMA" not in said(svg)


def test_an_event_stands_at_its_time_among_the_checks() -> None:
    chart = checks()
    svg = drawn(chart, Layout.WIDE)
    points = symbols(svg)
    days = [day_of(each.date) for each in chart.points]
    slope = (points[-1][1] - points[0][1]) / (days[-1] - days[0])
    group = re.search(r'<g id="events" transform="[^"]*">(.*?)</g>', svg, flags=re.S)
    assert group is not None
    lines = [float(each) for each in re.findall(r'<path d="M([\d.]+),', group[1])]
    offset = points[0][1] - slope * (days[0])
    shift = {
        round(offset + slope * day_of(each.time) - x, 0) for each, x in zip(chart.events, lines, strict=True)
    }
    assert len(shift) == 1  # one common origin of the plot


def test_two_checks_of_one_day_are_told_apart_and_a_wrong_date_is_refused() -> None:
    chart = dataclasses.replace(checks(3), points=tuple(CheckPoint("2026-03-02", 96.0 + k) for k in range(3)))
    xs = [x for _, x, _ in symbols(drawn(chart, Layout.WIDE))]
    assert len(set(xs)) == 3
    with pytest.raises(BadInput, match="ISO date"):
        day_of("yesterday")
    assert day_of("2026-03-02T12:00") - day_of("2026-03-02") == pytest.approx(0.5)


# --- curves ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("layout", list(Layout))
def test_every_operating_point_of_several_fans_carries_its_number(layout: Layout) -> None:
    chart = numbered()
    svg = drawn(chart, layout)
    words = [each.words for each in words_of(svg) if each.weight == 600]
    for point in chart.points:
        sign = str(point.number) if not point.word else f"{point.number} · {point.word}"
        assert words.count(sign) == 1, sign
    assert any(each.startswith("Through mesh filter") for each in said(svg))


def test_every_crossing_is_marked_and_the_unstable_one_is_open() -> None:
    chart = numbered()
    svg = drawn(chart, Layout.WIDE)
    odd = next(point for point in chart.points if point.crossings)
    found = [element for element, *_ in walk(svg) if "not unique" in element.get("aria-label", "")]
    assert len(found) == 3
    paper = PALETTES[Theme.LIGHT]["paper"]
    assert [each.get("fill") == paper for each in found] == [not stable for _, _, stable in odd.crossings]


def test_curves_and_their_points_share_colour_and_shape() -> None:
    pens = pens_of(pq().curves)
    assert len({(pen.colour, pen.shape) for pen in pens}) == 3
    many = tuple(dataclasses.replace(pq().curves[1], label=str(k)) for k in range(9))
    assert len({(pen.colour, pen.dash) for pen in pens_of(many)}) == 9
    accented = [pen for pen in pens if pen.curve.accent]
    assert [pen.colour for pen in accented] == ["accent"]
    pale = pens_of((dataclasses.replace(many[0], is_pale=True), many[1]))
    assert pale[0].colour == "pale"


# Severity 1.0 of Machado, Oliveira & Fernandes, IEEE TVCG 15 (2009) 1291, on linear RGB (from memory); colour
# differences in OKLab (Ottosson 2020, from memory).
PROTAN = [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
DEUTAN = [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
TO_LMS = [[0.4122214708, 0.5363325363, 0.0514459929], [0.2119034982, 0.6806995451, 0.1073969566],
          [0.0883024619, 0.2817188376, 0.6299787005]]  # fmt: skip
TO_LAB = [[0.2104542553, 0.7936177850, -0.0040720468], [1.9779984951, -2.4285922050, 0.4505937099],
          [0.0259040371, 0.7827717662, -0.8086757660]]  # fmt: skip


def difference(first: str, second: str) -> float:
    """The least difference of two colours to common, red-blind and green-blind eyes."""

    def linear(colour: str) -> np.ndarray:
        parts = np.array([int(colour[index : index + 2], 16) / 255 for index in (1, 3, 5)])
        return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)

    def lab(seen: np.ndarray) -> np.ndarray:
        return np.array(TO_LAB) @ np.cbrt(np.array(TO_LMS) @ np.clip(seen, 0, 1))

    return min(
        float(np.linalg.norm(lab(np.array(eyes) @ linear(first)) - lab(np.array(eyes) @ linear(second))))
        for eyes in (np.eye(3), PROTAN, DEUTAN)
    )


@pytest.mark.parametrize("theme", list(Theme))
def test_colours_of_curves_and_of_steps_can_be_told_apart_by_all_eyes(theme: Theme) -> None:
    colours = PALETTES[theme]
    for names in ((*HUES, "ink"), (*HUES[:4], "ink", "accent")):
        for one, other in itertools.combinations(names, 2):
            assert difference(colours[one], colours[other]) > 0.05, (one, other)
    six = [colours[SHADES[round(k * (len(SHADES) - 1) / 5)]] for k in range(6)]
    for one, other in itertools.pairwise(six):
        assert difference(one, other) > 0.04
    for step in SHADES:
        assert difference(colours[step], colours["warn"]) > 0.1, step


# --- names ----------------------------------------------------------------------------------------


def test_a_name_that_cannot_be_printed_is_seen_and_said() -> None:
    assert printable("🌀🌬️") == f"{BOX} U+1F300 U+1F32C"
    assert printable("🌀🌬️ Föhn 👩‍🔬") == f"{BOX} Föhn {BOX}"
    assert printable("مروحة") == f"{BOX} U+0645 U+0631"
    assert printable("Fo\u0308hn") == "Föhn"
    assert printable(" ") == ""
    chart = dataclasses.replace(ranking(1), bars=(dataclasses.replace(ranking(1).bars[0], label="🌀🌬️"),))
    for layout in Layout:
        words = said(drawn(chart, layout))
        assert any(each.startswith(f"{BOX} U+1F300") for each in words)
        assert any(UNPRINTABLE[:30] in each for each in words)
    assert table_of(chart).rows[0][0] == "🌀🌬️"
    assert not any(BOX in each for each in said(drawn(ranking(1), Layout.WIDE)))


def test_checks_of_which_only_the_day_is_known_stand_in_its_middle() -> None:
    first, second = "2026-11-13", "2026-11-14T09:30"
    made = control_chart_of([first, second])
    assert [each.at % 1.0 for each in _in_time(made)] == pytest.approx([0.5, 9.5 / 24.0])
    both = control_chart_of([first, first])
    assert [each.at % 1.0 for each in _in_time(both)] == pytest.approx([0.25, 0.75])


def control_chart_of(dates: list[str]) -> list[CheckPoint]:
    return [CheckPoint(each, 1.0, None, "", "era 1") for each in dates]
