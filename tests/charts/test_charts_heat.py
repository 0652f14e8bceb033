"""The pictures of heat and speed control as they are drawn: forecasts, steady moments, gaps, rigs that disagree, both
ways of a response.
"""

from __future__ import annotations

import csv
import dataclasses
import functools
import io
import itertools
import math
import re

import numpy as np
import pytest
from chart_samples import bars_of, walk, words_of
from heat_samples import (
    agreement,
    heat_bars,
    heat_checks,
    heat_tradeoff,
    response,
    settling,
    short_run,
)

from stillroom.charts import frame
from stillroom.charts.draw import png, set_page
from stillroom.charts.further_series import Chart
from stillroom.charts.heat.agreement import named_apart
from stillroom.charts.heat.series import (
    AgreementPoint,
    ForecastBand,
    Settled,
    SettlingChart,
    SettlingStep,
)
from stillroom.charts.heat.settling import pieces
from stillroom.charts.layout import Layout
from stillroom.charts.palette import PALETTES, Theme, contrast
from stillroom.charts.plane import axis
from stillroom.charts.response import ResponseLine, runs
from stillroom.charts.sound.tradeoff import straight
from stillroom.charts.table import table_of
from stillroom.errors import BadInput

KINDS = (settling, short_run, agreement, response, heat_tradeoff, heat_bars, heat_checks)


@functools.cache
def drawn(build: object, layout: Layout) -> str:
    assert callable(build)
    return frame.plain_svg(set_page(build(), layout), Theme.LIGHT)


def said(svg: str) -> list[str]:
    return [each.words.replace("\u00a0", " ") for each in words_of(svg)]


def points(svg: str, words: str) -> list[tuple[str, float, float]]:
    return [
        (element.get("aria-label", ""), x, y)
        for element, x, y, _ in walk(svg)
        if element.get("aria-roledescription") == "point" and words in element.get("aria-label", "")
    ]


def rows_of(chart: Chart) -> list[list[str]]:
    return list(csv.reader(io.StringIO(table_of(chart).as_csv())))


@pytest.mark.parametrize(("build", "layout"), list(itertools.product(KINDS, Layout)))
def test_words_of_heat_stand_clear_and_on_the_page(build: object, layout: Layout) -> None:
    words = words_of(drawn(build, layout))
    assert len(words) > 5
    for first, second in itertools.combinations(words, 2):
        assert not first.overlaps(second), (first, second)
    assert min(each.left for each in words) >= 0
    assert max(each.right for each in words) <= layout.page.width


@pytest.mark.parametrize("build", [settling, agreement, response])
def test_pixels_are_exact_and_the_same_twice(build: object) -> None:
    assert callable(build)
    for layout, size in ((Layout.WIDE, (3840, 2160)), (Layout.SQUARE, (2160, 2160))):
        first, second = (png(set_page(build(), layout), Theme.DARK) for _ in range(2))
        assert first == second
        assert (int.from_bytes(first[16:20], "big"), int.from_bytes(first[20:24], "big")) == size


@pytest.mark.parametrize("theme", list(Theme))
def test_what_is_drawn_holds_its_contrast(theme: Theme) -> None:
    colours = PALETTES[theme]
    for name in ("accent", "block", "tied", "ink", "axis", "muted"):
        assert contrast(colours[name], colours["paper"]) >= 3.0, name
    for name in ("ink", "muted", "block", "warn", "accent"):  # those that words are set in
        assert contrast(colours[name], colours["paper"]) >= 4.5, name


# --- a run settling -------------------------------------------------------------------------------


@pytest.mark.parametrize("layout", list(Layout))
def test_settings_finals_and_steady_moments_are_told(layout: Layout) -> None:
    words = said(drawn(settling, layout))
    assert {"11.9 K", "13.8 K", "forecast 16.4 K", "cut at 2.3 τ"} <= set(words)
    assert {"steady after 27 min", "steady after 30 min", "door open, left out"} <= set(words)
    for step in settling().steps:
        assert any(each.startswith(step.setting.split(" · ")[0]) for each in words)


def test_marks_lie_where_a_step_ends_and_where_it_became_steady() -> None:
    svg, chart = drawn(settling, Layout.WIDE), settling()
    finals = sorted((x, y) for words, x, y in points(svg, "K (") if "dBA" in words or "100 %" in words)
    assert len(finals) == 3
    ends = [38.0, 76.0, chart.steps[2].forecast.time[-1] if chart.steps[2].forecast else 0.0]
    slope = (finals[1][0] - finals[0][0]) / 38.0
    assert finals[2][0] == pytest.approx(finals[0][0] + slope * (ends[2] - ends[0]), abs=0.5)
    since = sorted(points(svg, "steady after"), key=lambda each: each[1])
    assert since[0][1] == pytest.approx(finals[0][0] + slope * (27.0 - 38.0), abs=0.5)


def test_a_band_of_forecast_is_seen_beyond_the_record() -> None:
    svg = drawn(settling, Layout.WIDE)
    areas = [element.get("d", "") for element, *_ in walk(svg) if element.get("fill-opacity") == "0.2"]
    reach = max(float(x) for area in areas for x in re.findall(r"[ML](-?[\d.]+),", area))
    record = max(
        (element.get("d", "") for element, *_ in walk(svg) if element.get("aria-label") == settling().label),
        key=len,
    )
    assert reach > max(float(x) for x in re.findall(r"[ML](-?[\d.]+),", record)) + 100.0


def test_what_was_left_out_steps_back_and_a_gap_stays_open() -> None:
    chart = settling()
    used, aside = pieces(chart)
    assert len(used) == 2
    assert len(aside) == 1
    assert used[0][-1] == aside[0][0]  # they meet: nothing of the record is lost
    assert aside[0][-1] == used[1][0]
    assert {at for line in (*used, *aside) for at in line} == set(zip(chart.time, chart.value, strict=True))
    used, aside = pieces(short_run())
    assert [len(each) for each in used] == [41, 58]
    assert not aside


def test_a_step_without_a_value_says_why_and_has_no_mark() -> None:
    svg = drawn(short_run, Layout.WIDE)
    assert "not steady: 1.6 τ, no forecast before 2 τ" in said(svg)
    assert not points(svg, "K (")
    row = rows_of(short_run())[1]
    assert row[1] == "not steady"
    assert row[4:7] == ["", "", ""]
    with pytest.raises(BadInput, match="no reason"):
        SettlingStep(0.0, 1.0, "100 %", Settled.NOT_STEADY)
    with pytest.raises(BadInput, match="without an interval"):
        SettlingStep(0.0, 1.0, "100 %", Settled.MEASURED, 11.0)


def test_a_gap_in_numbers_is_refused() -> None:
    with pytest.raises(BadInput, match="finite"):
        dataclasses.replace(short_run(), value=(math.nan, *short_run().value[1:]))
    with pytest.raises(BadInput, match="rise"):
        ForecastBand((0.0, 0.0), (1.0, 1.0), (0.9, 0.9), (1.1, 1.1))
    with pytest.raises(BadInput, match="no step"):
        dataclasses.replace(short_run(), steps=())


def test_the_table_of_a_run_has_no_more_digits_than_its_intervals() -> None:
    rows = rows_of(settling())
    assert rows[1][4:7] == ["11.93", "11.85", "12.01"]
    assert rows[3][1] == "forecast"
    assert rows[3][4:7] == ["16.4", "16.0", "16.8"]
    assert ["", "left out", "55.0", "59.0", "", "", "", "", ""] in rows


def many_steps(count: int) -> SettlingChart:
    """A run of so many settings, as a long set list gives."""
    each = 20.0
    times = tuple(np.arange(0.0, each * count, 0.25).tolist())
    final = [11.0 + 0.9 * k for k in range(count)]
    values = tuple(
        final[min(int(t / each), count - 1)] * (1.0 - math.exp(-(t % each + 3.0) / 5.0)) for t in times
    )
    steps = tuple(
        SettlingStep(each * k, each * (k + 1), f"{100 - 7 * k} % · {1800 - 110 * k:,} rpm", Settled.MEASURED,
                     final[k], final[k] - 0.1, final[k] + 0.1, each * k + 15.0)
        for k in range(count)
    )  # fmt: skip
    return dataclasses.replace(settling(), time=times, value=values, steps=steps, left_out=(), marks=())


@pytest.mark.parametrize("layout", list(Layout))
def test_a_long_set_list_stays_on_its_page(layout: Layout) -> None:
    svg = frame.plain_svg(set_page(many_steps(6), layout), Theme.LIGHT)
    words = words_of(svg)
    for first, second in itertools.combinations(words, 2):
        assert not first.overlaps(second), (first, second)
    assert all(each.left >= 0.0 and each.right <= layout.page.width for each in words)


# --- predicted and measured ------------------------------------------------------------------------


@pytest.mark.parametrize("layout", list(Layout))
def test_the_step_that_disagrees_is_named_with_its_rig(layout: Layout) -> None:
    svg, chart = drawn(agreement, layout), agreement()
    words = said(svg)
    off = next(each for each in chart.points if each.word)
    assert off.name in words
    assert any(each.startswith("heat-1 disagrees") for each in words)
    found = points(svg, "predicted")
    assert len(found) == len(chart.points)
    across = np.array([x for _, x, _ in found])
    order = sorted(chart.points, key=lambda each: (bool(each.word), each.accent))
    assert np.corrcoef(across, [each.predicted for each in order])[0, 1] == pytest.approx(1.0, abs=1e-6)


def test_of_steps_that_disagree_alike_the_farthest_is_named_once() -> None:
    one = AgreementPoint("Sedge", 12.0, 11.8, 12.2, 13.0, 12.9, 13.1, "its airflow is off", setting="100 %")
    far = dataclasses.replace(one, measured=14.0, low=13.9, high=14.1, setting="35 dBA")
    other = dataclasses.replace(one, label="Moss")
    assert named_apart((one, far, other)) == [(far, False), (other, True)]


def test_shape_tells_a_disagreement_and_a_forecast_too() -> None:
    # Colour is never alone (WCAG 2.2, 1.4.1): a square is a different path from a circle or a diamond.
    svg = drawn(agreement, Layout.WIDE)
    shapes = {
        "off" if "disagrees" in words else "forecast" if "forecast" in words else "measured": element.get("d")
        for element, *_ in walk(svg)
        if (words := element.get("aria-label", "")) and element.get("aria-roledescription") == "point"
    }
    assert len(set(shapes.values())) == 3


# --- speed control ---------------------------------------------------------------------------------


@pytest.mark.parametrize("layout", list(Layout))
def test_start_stop_lowest_and_open_wire_are_told(layout: Layout) -> None:
    words = said(drawn(response, layout))
    assert {"starts at 20–22 %", "stops at 15–18 %", "lowest 444 rpm at 18 %", "wire open: 1,862 rpm"} <= set(
        words
    )
    assert {"rising", "falling"} <= set(words)


def test_no_line_joins_a_fan_that_stands_to_one_that_turns() -> None:
    line = ResponseLine("rising", (0.0, 10.0, 20.0, 22.0, 30.0), (0.0, 0.0, 0.0, 400.0, 550.0))
    assert runs(line) == [[(0.0, 0.0), (10.0, 0.0), (20.0, 0.0)], [(22.0, 400.0), (30.0, 550.0)]]
    back = ResponseLine("falling", (30.0, 20.0, 10.0), (550.0, 400.0, 0.0), True)
    assert runs(back) == [[(30.0, 550.0), (20.0, 400.0)]]


def test_the_reach_of_a_start_is_drawn_and_tabled() -> None:
    rows = rows_of(response())
    assert ["start", "22", "20", "22"] in [row[:4] for row in rows]
    assert ["stop", "15", "15", "18"] in [row[:4] for row in rows]
    assert ["lowest", "18", "", ""] in [row[:4] for row in rows]


# --- heat against noise, in bars, and checks --------------------------------------------------------


def test_heat_against_noise_says_which_way_is_cooler_and_has_its_bands() -> None:
    svg = drawn(heat_tradeoff, Layout.WIDE)
    assert "Rise over air-in, K · ↓ lower is cooler" in said(svg)
    areas = [element for element, *_ in walk(svg) if element.get("fill-opacity") == "0.2"]
    assert len(areas) >= len(heat_tradeoff().lines)
    row = next(row for row in rows_of(heat_tradeoff()) if row[1] == "line")
    assert row[8]
    assert row[9]


def test_a_band_is_cut_where_the_level_turns_back() -> None:
    parts = straight([1.0, 2.0, 3.0, 2.5, 2.0, 2.6, 4.0])
    assert parts == [slice(0, 3), slice(2, 5), slice(4, 7)]
    assert straight([1.0, 2.0]) == [slice(0, 2)]


@pytest.mark.parametrize("layout", list(Layout))
def test_heat_bars_start_at_zero_in_the_order_of_the_standings(layout: Layout) -> None:
    svg = drawn(heat_bars, layout)
    bars = sorted(bars_of(svg), key=lambda each: each.middle)
    assert [each.words.split(":")[0] for each in bars] == [each.label for each in heat_bars().bars]
    assert len({round(each.left, 2) for each in bars}) == 1
    wide = [each.right - each.left for each in bars[:7]]
    values = [each.value for each in heat_bars().bars[:7]]
    assert np.array(wide) / wide[0] == pytest.approx(np.array(values) / values[0], rel=1e-3)  # from zero
    assert "← shorter is cooler" in said(svg)


def test_an_axis_has_three_ticks_at_least() -> None:
    for low, high in ((11.55, 12.4), (0.0, 1.0), (9.9, 10.6), (-3.2, 41.0)):
        for most in (4, 5, 6, 8):
            assert len(axis(low, high, most).ticks) >= 3, (low, high, most)


def test_checks_of_two_eras_are_not_joined() -> None:
    svg = drawn(heat_checks, Layout.WIDE)
    thin = [
        element.get("d", "")
        for element, *_ in walk(svg)
        if element.get("stroke") == PALETTES[Theme.LIGHT]["axis"] and element.get("d", "").count("L") > 8
    ]
    assert sorted(each.count("L") + 1 for each in thin) == [12, 16]


def test_a_long_footer_is_whole_on_a_square_card_with_room() -> None:
    foot = (
        "Card 2 of 2, one axis for all · Fabricated Fan Laboratory (invented) · method heat 1, heat mounting 1, "
        "sound mounting 4 · five samples, eight mountings, lines show 95 % · 2026-11-26"
    )
    chart = dataclasses.replace(heat_bars(), bars=heat_bars().bars[:5], footer=foot)
    words = said(frame.plain_svg(set_page(chart, Layout.SQUARE), Theme.LIGHT))
    assert words[-1].endswith("2026-11-26")
    assert " ".join(words[-3:]) == foot
