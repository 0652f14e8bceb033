"""The pictures of sound as they are drawn: bounds, bands, tones, cells, folds, limits, and fans that are too loud."""

from __future__ import annotations

import base64
import csv
import dataclasses
import functools
import io
import itertools
import re
import struct
import zlib

import numpy as np
import pytest
from chart_samples import Words, bars_of, walk, words_of
from sound_samples import (
    FANS,
    LIMITS,
    levels,
    many_levels,
    quiet_bars,
    ramp,
    spectrum,
    tradeoff,
)

from stillroom.charts import frame
from stillroom.charts.bar_words import fitted_word
from stillroom.charts.draw import set_page
from stillroom.charts.fonts import width
from stillroom.charts.further_series import Chart
from stillroom.charts.layout import Layout
from stillroom.charts.palette import PALETTES, Theme, contrast, luminance
from stillroom.charts.pieces import pens_for, signs_of, stretches
from stillroom.charts.plane import Plane, axis, log_axis
from stillroom.charts.series import Bar, Bound
from stillroom.charts.sound.raster import STEPS, grey_png, shades
from stillroom.charts.sound.series import (
    AvoidBand,
    LevelLine,
    LevelPoint,
    OrderLine,
    RampChart,
    SpectrumBand,
    ToneMark,
    TradeLine,
    TradeTick,
)
from stillroom.charts.sound.spectrum import steps, tone_signs
from stillroom.charts.table import table_of
from stillroom.errors import BadInput


@functools.cache
def drawn(build: object, layout: Layout) -> str:
    assert callable(build)
    return frame.plain_svg(set_page(build(), layout), Theme.LIGHT)


def plain(each: Words) -> str:
    return each.words.replace("\u00a0", " ")


def said(svg: str) -> list[str]:
    return [plain(each) for each in words_of(svg)]


def points(svg: str, label: str) -> list[tuple[str, float, float]]:
    return [
        (element.get("aria-label", ""), x, y)
        for element, x, y, _ in walk(svg)
        if element.get("aria-roledescription") == "point" and label in element.get("aria-label", "")
    ]


def rows_of(chart: Chart) -> list[list[str]]:
    return list(csv.reader(io.StringIO(table_of(chart).as_csv())))


@pytest.mark.parametrize(
    ("build", "layout"),
    [
        (many_levels, Layout.PHONE),
        (many_levels, Layout.ARTICLE),
        (quiet_bars, Layout.WIDE),
        (quiet_bars, Layout.PHONE),
    ],
)
def test_words_stand_clear_and_on_the_page(build: object, layout: Layout) -> None:
    words = words_of(drawn(build, layout))
    for first, second in itertools.combinations(words, 2):
        assert not first.overlaps(second), (first, second)
    assert min(each.left for each in words) >= 0
    assert max(each.right for each in words) <= layout.page.width


# --- level against speed --------------------------------------------------------------------------


@pytest.mark.parametrize("layout", list(Layout))
def test_bounds_limits_floor_and_speeds_to_avoid_are_told_in_words(layout: Layout) -> None:
    words = said(drawn(levels, layout))
    assert words.count("at most") == 1
    for limit in LIMITS:
        assert limit.label in words
    assert "noise floor 18 dBA" in words
    assert "avoid 1090–1330 rpm" in words
    assert {"1437 rpm", "1784 rpm"} <= set(words)
    assert any("at 0.5 m" in each for each in words)


def test_a_bound_points_down_from_where_it_is() -> None:
    svg = drawn(levels, Layout.WIDE)
    chart = levels()
    bounds = points(svg, "at most")
    assert len(bounds) == sum(each.bound is Bound.AT_MOST for each in chart.lines[0].points)
    values = [each for each in points(svg, "Bracken") if "at most" not in each[0]]
    lowest = max(y for _, _, y in values)  # the highest level of a bound lies beneath the lowest value
    assert all(y > lowest for _, _, y in bounds)


def test_the_shaded_band_lies_at_its_speeds() -> None:
    svg = drawn(levels, Layout.WIDE)
    # Two dwells give the scale of the abscissa: 1100 and 1900 rpm.
    at = {words.split(", ")[1].split(":")[0]: x for words, x, _ in points(svg, "Bracken") if ", " in words}
    slope = (at["1,900"] - at["1,100"]) / 800.0
    colour = PALETTES[Theme.LIGHT]["warn"]
    band = next(
        element
        for element, *_ in walk(svg)
        if element.get("fill") == colour and element.get("fill-opacity") == "0.16"
    )
    hit = re.match(r"M([\d.]+),[\d.]+h([\d.]+)", band.get("d", ""))
    assert hit is not None
    assert float(hit[2]) == pytest.approx(240.0 * slope, rel=0.01)


def test_of_several_fans_bands_are_strokes_and_words_stand_beneath() -> None:
    svg = drawn(many_levels, Layout.WIDE)
    assert svg.count(PALETTES[Theme.LIGHT]["stroke"]) == len(many_levels().avoid)
    assert not any(each.startswith("avoid ") for each in said(svg))
    for name in FANS:
        assert sum(name in each for each in said(svg)) >= 1
    chart = many_levels()
    with pytest.raises(BadInput, match="1 to 5"):
        set_page(dataclasses.replace(chart, lines=(*chart.lines, chart.lines[0])), Layout.WIDE)


def test_a_fan_looks_alike_whatever_the_order_of_the_lines() -> None:
    names = ("Sedge", "Bracken", "Moss", "Asphodel", "Tormentil")
    usual = dict(zip(names, pens_for(names, [False] * 5), strict=True))
    assert len({each.colour for each in usual.values()}) == len({each.shape for each in usual.values()}) == 5
    other = ("Moss", "Tormentil", "Sedge", "Asphodel", "Bracken")
    found = dict(zip(other, pens_for(other, [each == "Moss" for each in other]), strict=True))
    assert found["Moss"].colour == "accent"
    assert found["Moss"].shape == usual["Moss"].shape
    assert all(found[each] == usual[each] for each in other if each != "Moss")


def test_words_of_bands_are_laid_in_lanes() -> None:
    page = Layout.WIDE.page
    plane = Plane(axis(0.0, 100.0, 8), axis(0.0, 1.0, 4), 900.0, 400.0)
    bands = [AvoidBand(x, x + 4.0, f"avoid {x:.0f}–{x + 4:.0f} rpm") for x in (1.0, 8.0, 11.0, 60.0, 97.0)]
    signs = signs_of(bands, page, plane, 0.0, 900.0)
    spans = [(each.lane, each.left, each.left + width(each.words, page.small, 600)) for each in signs]
    for one, other in itertools.combinations(spans, 2):
        assert one[0] != other[0] or one[2] <= other[1] or other[2] <= one[1]
    assert all(left >= 0.0 and right <= 900.0 for _, left, right in spans)


def test_a_line_is_cut_where_it_begins_to_be_a_bound_and_leaves_no_gap() -> None:
    line = [(float(x), 0.0) for x in range(7)]
    flags = (True, True, False, False, True, False, False)
    found = stretches(line, flags)
    assert [flag for flag, _ in found] == [True, False, True, False]
    for (_, before), (_, after) in itertools.pairwise(found):
        assert before[-1] == after[0]
    assert found[0][1][0] == line[0]
    assert found[-1][1][-1] == line[-1]
    assert stretches(line, ()) == [(False, line)]


# --- spectrum -------------------------------------------------------------------------------------


@pytest.mark.parametrize("layout", list(Layout))
def test_tones_are_named_at_their_frequency(layout: Layout) -> None:
    svg, chart = drawn(spectrum, layout), spectrum()
    words = said(svg)
    for tone in chart.tones:
        assert tone.words in words
    assert "background" in words
    assert words.count("at most") == 1
    lines = re.findall(
        rf'<path d="M([\d.]+),(-?[\d.]+)L[\d.]+,[\d.]+" fill="none" stroke="{PALETTES[Theme.LIGHT]["hue-2"]}"',
        svg,
    )
    xs = sorted(float(x) for x, _ in lines)
    assert len(xs) == 3
    logs = np.log([each.frequency for each in sorted(chart.tones, key=lambda each: each.frequency)])
    assert np.corrcoef(xs, logs)[0, 1] == pytest.approx(1.0, abs=1e-5)


@pytest.mark.parametrize("layout", list(Layout))
def test_no_line_of_a_tone_passes_through_words(layout: Layout) -> None:
    # Brute force over random sets of tones.
    rng = np.random.default_rng(3)
    page = layout.page
    plane = Plane(log_axis(17.8, 22387.0), axis(0.0, 40.0, 5), page.width - 2 * page.margin - 40.0, 400.0)
    for _ in range(40):
        count = int(rng.integers(1, 4 if page.stacked else 6))
        tones = tuple(
            ToneMark(float(f), f"harmonic {f:.0f} Hz") for f in np.sort(10 ** rng.uniform(1.6, 3.5, count))
        )
        signs = tone_signs(dataclasses.replace(spectrum(), tones=tones), page, plane)
        for one, other in itertools.permutations(signs, 2):
            if one.lane == other.lane:
                assert one.right <= other.left or other.right <= one.left
            assert not (other.left < one.x < other.right and one.lane >= other.lane)


def test_stairs_go_from_edge_to_edge_and_break_where_a_band_is_missing() -> None:
    edges = [100.0 * 10 ** (k / 10) for k in range(6)]
    bands = [(edges[k], edges[k + 1], float(k)) for k in (0, 1, 3, 4)]
    runs = steps(bands)
    assert [len(each) for each in runs] == [4, 4]
    assert runs[0] == [(edges[0], 0.0), (edges[1], 0.0), (edges[1], 1.0), (edges[2], 1.0)]


def test_a_band_far_below_stays_on_the_plot_and_in_the_table() -> None:
    chart = spectrum()
    deep = dataclasses.replace(chart.bands[0], level=-43.0, background=-60.0, bound=Bound.NONE)
    chart = dataclasses.replace(chart, bands=(deep, *chart.bands[1:]))
    svg = frame.plain_svg(set_page(chart, Layout.WIDE), Theme.LIGHT)
    assert "-43.0" in [row[2] for row in rows_of(chart)]
    assert not any(each in said(svg) for each in ("−40", "−60"))


# --- ramp -----------------------------------------------------------------------------------------


def decoded(png: bytes) -> np.ndarray:
    """A greyscale PNG with filter 0 only (ISO/IEC 15948), read back."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    place, data, size = 8, b"", (0, 0)
    while place < len(png):
        length, kind = struct.unpack(">I4s", png[place : place + 8])
        body = png[place + 8 : place + 8 + length]
        assert struct.unpack(">I", png[place + 8 + length : place + 12 + length])[0] == zlib.crc32(
            kind + body
        )
        size = struct.unpack(">II", body[:8]) if kind == b"IHDR" else size
        data += body if kind == b"IDAT" else b""
        place += 12 + length
    rows = np.frombuffer(zlib.decompress(data), np.uint8).reshape(size[1], size[0] + 1)
    assert not rows[:, 0].any()
    return rows[:, 1:]


def test_cells_become_lightness_the_loud_strong_and_the_high_on_top() -> None:
    cells = np.array([[0.0, 10.0, 20.0], [30.0, 40.0, np.nan]], dtype=np.float32)
    grey = shades(cells, 10.0, 30.0)
    assert grey.tolist() == [[255, 255, 0], [0, 0, 128]]
    assert (decoded(grey_png(grey)) == grey).all()
    many = shades(np.linspace(0.0, 40.0, 401, dtype=np.float32)[None, :].repeat(2, axis=0), 0.0, 40.0)
    assert (np.diff(many[0].astype(int)) >= 0).all()
    assert len(set(many[0])) == STEPS + 1


@pytest.mark.parametrize("layout", [Layout.WIDE, Layout.PHONE])
def test_the_spectrogram_is_one_small_picture_for_both_themes(layout: Layout) -> None:
    sheet, chart = set_page(ramp(), layout), ramp()
    light, dark = (frame.carrying_svg(sheet, theme) for theme in Theme)
    assert len(light) < 200_000
    pictures = [re.findall(r'href="data:image/png;base64,([^"]+)"', each) for each in (light, dark)]
    assert pictures[0] == pictures[1]
    grey = decoded(base64.b64decode(pictures[0][0]))
    assert grey.shape == chart.cells.shape
    names = re.findall(r'<mask id="([^"]+)"', light)
    assert len(set(names)) == 2
    assert all(name.startswith(layout.page.name) for name in names)  # two drawings stand in one page


@pytest.mark.parametrize("theme", list(Theme))
def test_lightness_goes_one_way_and_reaches_far(theme: Theme) -> None:
    """One hue, from the paper to a colour of 7:1 against it; in steps of growing contrast, in both themes."""
    paper, loud = PALETTES[theme]["paper"], PALETTES[theme]["loud"]
    assert contrast(paper, loud) > 7.0
    ends = [[int(each[k : k + 2], 16) for k in (1, 3, 5)] for each in (paper, loud)]
    mixed = [
        "#" + "".join(f"{round(a + (b - a) * k / 20):02X}" for a, b in zip(*ends, strict=True))
        for k in range(21)
    ]
    seen = [luminance(each) for each in mixed]
    assert seen == sorted(seen, reverse=theme is Theme.LIGHT)
    assert len(set(seen)) == 21
    assert contrast(PALETTES[theme]["order"], paper) >= 3.0


@pytest.mark.parametrize("layout", list(Layout))
def test_orders_are_named_at_the_ends_of_their_lines(layout: Layout) -> None:
    svg, chart = drawn(ramp, layout), ramp()
    words = {plain(each): each.base for each in words_of(svg)}
    ends = sorted(chart.orders, key=lambda each: -each.frequency[-1])
    bases = [words[each.label] for each in ends]
    assert bases == sorted(bases)
    assert "resonance 1190–1350 rpm" in words
    assert any("40 dB" in each for each in words)
    row = rows_of(chart)[5]
    assert float(row[2]) == pytest.approx(9.0 * float(row[0]) / 60.0, rel=0.01)


# --- airflow against noise ------------------------------------------------------------------------


def test_a_fold_is_kept_in_the_order_of_the_speed() -> None:
    chart = tradeoff(1)
    svg = frame.plain_svg(set_page(chart, Layout.WIDE), Theme.LIGHT)
    line = chart.lines[0]
    inside = [k for k, flag in enumerate(line.bound) if not flag]
    path = max(
        (element.get("d", "") for element, *_ in walk(svg) if element.get("aria-label") == line.label),
        key=len,
    )
    xs = [float(x) for x, _ in re.findall(r"(-?[\d.]+),(-?[\d.]+)", path)]
    wanted = np.array(line.level)[inside[0] - 1 if inside[0] else 0 :]
    assert len(xs) == len(wanted)
    assert np.corrcoef(xs, wanted)[0, 1] == pytest.approx(1.0, abs=1e-4)
    assert np.diff(xs).min() < 0.0 < np.diff(xs).max()  # it turns back


@pytest.mark.parametrize("layout", list(Layout))
def test_each_fan_is_named_and_each_limit_said(layout: Layout) -> None:
    words = said(drawn(tradeoff, layout))
    for name in FANS:
        first = name.split(" ")[0]
        assert any(each.startswith(first) for each in words)
    assert "35 dBA" in words
    assert {"25 dBA", "30 dBA"} <= set(words) or {"25", "30"} <= set(words)


# --- bars at a limit ------------------------------------------------------------------------------


@pytest.mark.parametrize("layout", list(Layout))
def test_fans_that_are_too_loud_stay_at_the_foot_with_their_words(layout: Layout) -> None:
    svg = drawn(quiet_bars, layout)
    bars = sorted(bars_of(svg), key=lambda each: each.middle)
    assert [each.words.split(":")[0] for each in bars] == [each.label for each in quiet_bars().bars]
    assert all(each.right - each.left < 1e-6 for each in bars[-2:])
    words = said(svg)
    assert words.count("can’t run this quiet") == 2
    assert any(each.endswith("tops out at 31 dBA") for each in words)
    assert "avoid 1090–1330 rpm" in " ".join(words)  # at the bar, or beneath where the bar has no room
    assert [row[-2:] for row in rows_of(quiet_bars())[-2:]] == [["not ranked", "can’t run this quiet"]] * 2


def test_words_on_a_bar_are_left_out_whole_before_they_are_cut() -> None:
    bar = Bar("Fan", 1.0, 0.9, 1.1, "too close to call", True, "avoid 1090–1330 rpm, 1 sample, bridged")
    whole = fitted_word(bar, 20.0, 10_000.0)
    assert whole == "too close to call · avoid 1090–1330 rpm, 1 sample, bridged"
    room = width("too close to call · avoid 1090–1330 rpm …", 20.0) + 1.0
    assert fitted_word(bar, 20.0, room) == "too close to call · avoid 1090–1330 rpm …"
    assert fitted_word(dataclasses.replace(bar, mark_word=""), 20.0, 10_000.0) == bar.note
    assert fitted_word(dataclasses.replace(bar, note=""), 20.0, 10_000.0) == "too close to call"


# --- what is refused, and the tables --------------------------------------------------------------


def test_series_that_cannot_be_drawn_are_refused() -> None:
    with pytest.raises(BadInput, match="rising"):
        LevelLine("Fan", (1.0, 1.0), (3.0, 4.0))
    with pytest.raises(BadInput, match="finite"):
        LevelPoint(1.0, float("nan"))
    with pytest.raises(BadInput, match="above zero"):
        SpectrumBand("20", 0.0, 2.0, 3.0)
    with pytest.raises(BadInput, match="0 Hz"):
        OrderLine("shaft", (1.0, 2.0), (0.0, 1.0))
    with pytest.raises(BadInput, match="low ≤ high"):
        TradeTick(30.0, 30.0, 30.0, 40.0, 42.0, 41.0)
    with pytest.raises(BadInput, match="one length"):
        TradeLine("Fan", (1.0, 2.0), (3.0, 4.0), (5.0,))
    with pytest.raises(BadInput, match="infinite"):
        dataclasses.replace(ramp(), cells=np.full((3, 3), np.inf, dtype=np.float32))
    with pytest.raises(BadInput, match="two or more"):
        set_page(dataclasses.replace(spectrum(), bands=spectrum().bands[:1]), Layout.WIDE)
    with pytest.raises(BadInput, match="1 to 5"):
        set_page(dataclasses.replace(tradeoff(), lines=()), Layout.WIDE)


@pytest.mark.parametrize("build", [levels, many_levels, spectrum, ramp, tradeoff])
def test_numbers_of_the_tables_read_back(build: object) -> None:
    assert callable(build)
    chart = build()
    table = table_of(chart)
    rows = rows_of(chart)[1:]
    assert len(rows) == len(table.rows) > 5
    for row in rows:
        for column in table.numeric:
            if row[column]:
                float(row[column])
    if isinstance(chart, RampChart):
        assert len(rows) <= 121
