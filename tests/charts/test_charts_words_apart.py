"""Words that must not be crossed or cut: events above a plot of time, leaders to names, notes on a phone."""

from __future__ import annotations

import dataclasses
import datetime
import itertools
import re

import numpy as np
import pytest
from chart_samples import ranking, words_of
from further_samples import checks, obstacles, panels

from stillroom.charts import frame
from stillroom.charts.draw import draw, set_page
from stillroom.charts.fonts import REGULAR, STRONG, width
from stillroom.charts.further_series import CheckEvent, ControlPicture
from stillroom.charts.labels import apart, led_from
from stillroom.charts.layout import Layout
from stillroom.charts.palette import Theme
from stillroom.charts.panels import ELSEWHERE
from stillroom.charts.series import Bar
from stillroom.lab.pictures.kinds import Made
from stillroom.verbs.charting import _said

NUMBER = r"(-?[\d.]+)"


def with_events(days: tuple[int, ...]) -> ControlPicture:
    """Events on these days of the checks, every second one a change; long and short words in turn."""
    words = (
        "seal of the fan plate changed",
        "tubes of the nozzle gauge renewed, led to other taps",
        "zeros taken",
    )
    first = datetime.date.fromisoformat(checks().points[0].date)
    events = tuple(
        CheckEvent((first + datetime.timedelta(days=day)).isoformat(), words[index % 3], index % 2 == 1)
        for index, day in enumerate(days)
    )
    return dataclasses.replace(checks(), events=events)


@pytest.mark.parametrize("layout", list(Layout))
@pytest.mark.parametrize("days", [(35,), (1, 33, 35), (20, 21, 22), tuple(range(0, 36, 4))])
def test_no_event_runs_through_the_words_of_another_or_its_own(layout: Layout, days: tuple[int, ...]) -> None:
    """Lines and words as drawn: no line passes between the ends of words that stand at its height or lower."""
    svg = frame.plain_svg(set_page(with_events(days), layout), Theme.LIGHT)
    group = re.search(r'<g id="events" transform="[^"]*">(.*?)</g>', svg, flags=re.S)
    assert group is not None
    lines = [tuple(map(float, each)) for each in re.findall(rf'<path d="M{NUMBER},{NUMBER}L', group[1])]
    assert len(lines) == len(days)
    pattern = rf'<text x="{NUMBER}" y="{NUMBER}"[^>]*font-size="([\d.]+)px" font-weight="(\d+)"[^>]*>([^<]*)<'
    boxes = []
    for x, y, size, weight, words in re.findall(pattern, group[1]):
        wide = width(words, float(size), STRONG if weight == "600" else REGULAR)
        boxes.append((float(x), float(x) + wide, float(y) - 0.8 * float(size), float(y)))
    assert boxes
    assert len(boxes) == len(days) or len(days) > 4
    for (x, top), (left, right, _, base) in itertools.product(lines, boxes):
        assert not (left < x < right and top < base), (x, left, right)
    for one, other in itertools.combinations(boxes, 2):
        apart_across = one[1] <= other[0] or other[1] <= one[0]
        assert apart_across or one[3] <= other[2] or other[3] <= one[2]


def test_an_event_near_the_right_edge_has_its_words_left_of_its_line() -> None:
    for layout in Layout:
        chart = with_events((35,))
        words = words_of(frame.plain_svg(set_page(chart, layout), Theme.LIGHT))
        said = next(each for each in words if each.words.startswith("seal of the fan"))
        assert said.words == "seal of the fan plate changed"


def test_leaders_to_a_column_do_not_cross() -> None:
    # Brute force: random ends left of the column; two leaders are compared where both have begun and at the column.
    rng = np.random.default_rng(11)
    for _ in range(60):
        count = int(rng.integers(2, 9))
        ends = [
            (float(x), float(y))
            for x, y in zip(rng.uniform(0, 90, count), rng.uniform(0, 80, count), strict=True)
        ]
        heights = [float(each) for each in rng.uniform(3, 9, count)]
        middles = led_from(ends, heights, 100.0, 0.0, 100.0)
        for (one, m1), (other, m2) in itertools.combinations(zip(ends, middles, strict=True), 2):
            at = max(one[0], other[0])
            y1, y2 = (y + (m - y) * (at - x) / (100.0 - x) for (x, y), m in ((one, m1), (other, m2)))
            assert (y1 - y2) * (m1 - m2) >= -1e-6
        order = sorted(range(count), key=lambda index: middles[index])
        for upper, lower in itertools.pairwise(order):
            assert middles[lower] - middles[upper] >= (heights[lower] + heights[upper]) / 2 - 1e-9


def test_a_column_keeps_the_order_that_it_is_given() -> None:
    assert apart([1.0, 9.0], [2.0, 2.0], 0.0, 20.0, order=[1, 0]) == pytest.approx([6.0, 4.0])


def test_a_band_ends_where_it_leaves_the_plot() -> None:
    """A band wholly beneath the axis leaves no line along the foot of the plot."""
    chart = obstacles(7)
    grille = chart.curves[-1]
    low = dataclasses.replace(
        grille,
        drop=tuple(
            each * (q / grille.flow[-1]) ** 2 for q, each in zip(grille.flow, grille.drop, strict=True)
        ),
        low=tuple(
            0.5 * each * (q / grille.flow[-1]) ** 2 for q, each in zip(grille.flow, grille.drop, strict=True)
        ),
        high=tuple(
            1.5 * each * (q / grille.flow[-1]) ** 2 for q, each in zip(grille.flow, grille.drop, strict=True)
        ),
        measured=grille.measured[-1:],
    )
    svg = frame.plain_svg(set_page(dataclasses.replace(chart, curves=(*chart.curves[:-1], low)), Layout.WIDE),
                          Theme.LIGHT)  # fmt: skip
    areas = re.findall(r'<path [^>]*d="(M[^"]*)"[^>]*opacity="0\.2"', svg) or re.findall(
        r'<path [^>]*opacity="0\.2"[^>]*d="(M[^"]*)"', svg
    )
    assert areas
    for area in areas:
        points = [tuple(map(float, each)) for each in re.findall(rf"{NUMBER},{NUMBER}", area)]
        half = len(points) // 2
        upper, lower = points[:half], points[half:][::-1]
        flat = sum(abs(one[1] - other[1]) < 1e-6 for one, other in zip(upper, lower, strict=True))
        assert flat <= 1, "a band without height is a line along the axis"


@pytest.mark.parametrize("layout", [Layout.PHONE, Layout.SQUARE, Layout.WIDE])
def test_what_is_said_of_a_bridged_bar_is_not_cut(layout: Layout) -> None:
    bars = tuple(dataclasses.replace(each, note="1 sample, bridged") for each in ranking(3).bars)
    chart = dataclasses.replace(
        ranking(3), bars=bars, notes=("Bridged: measured before a change of the rig.",)
    )
    words = [each.words for each in words_of(frame.plain_svg(set_page(chart, layout), Theme.LIGHT))]
    assert sum(each.endswith("1 sample, bridged") for each in words) == len(bars)
    assert any(each.startswith("Bridged: measured before") for each in words)


def test_a_panel_too_narrow_for_a_reason_says_where_it_stands() -> None:
    reason = (
        "only a legacy number under another condition: 66 m³/h through the old 27 mm radiator at full setting"
    )
    chart = panels()
    bars = tuple(
        Bar(each.label, 0.0, None, None, note=reason, is_missing=True) if each.is_missing else each
        for each in chart.panels[3].bars
    )
    chart = dataclasses.replace(
        chart, panels=tuple(dataclasses.replace(each, bars=bars) if index == 3 else each
                            for index, each in enumerate(chart.panels))
    )  # fmt: skip
    words = [each.words for each in words_of(frame.plain_svg(set_page(chart, Layout.ARTICLE), Theme.LIGHT))]
    assert ELSEWHERE in words
    assert not any(each.startswith("only a legacy") for each in words)


def test_the_answer_names_the_file_of_the_words_and_does_not_repeat_them(tmp_path) -> None:  # type: ignore[no-untyped-def]
    chart = ranking(3)
    files = draw(chart, tmp_path, "made", themes=(Theme.LIGHT,))
    said = _said(Made(((chart, "made"),)), [files])
    assert said.data["alt"] == chart.alt
    assert chart.alt not in said.lines
    assert max(map(len, said.lines)) < len(str(tmp_path)) + 80
    assert [each for each in said.lines if "made.html" in each and ".txt (the picture in words)" in each]
    assert said.data["files"] == [str(each) for each in files]
