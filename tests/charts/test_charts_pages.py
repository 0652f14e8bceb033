"""All charts on all pages: sizes, letters, contrast, alt text, tables, files."""

from __future__ import annotations

import base64
import csv
import dataclasses
import functools
import io
import itertools
import re
import struct
import time
import xml.etree.ElementTree as ET
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest
from chart_samples import HOSTILE, SVG, collapse, pq, ranking, speeds, words_of
from further_samples import checks, claims, numbered, obstacles, panels
from heat_samples import agreement, response, settling
from sound_samples import levels, ramp, spectrum, tradeoff

from stillroom.charts import draw as drawing
from stillroom.charts import fonts, frame
from stillroom.charts.draw import draw, set_page
from stillroom.charts.frame import Sheet
from stillroom.charts.further_series import Chart
from stillroom.charts.layout import Layout
from stillroom.charts.palette import HUES, PALETTES, SHADES, Theme, contrast, role
from stillroom.charts.plane import axis, decimals_for, step_for
from stillroom.charts.series import Curve, CurveChart, LoadLine, Sweep
from stillroom.charts.table import table_of
from stillroom.errors import BadInput

CHARTS: dict[str, Callable[[], Chart]] = {
    "ten": ranking,
    "six": lambda: ranking(6),
    "pq": pq,
    "speeds": speeds,
    "collapse": collapse,
    "numbered": numbered,
    "obstacles": obstacles,
    "panels": panels,
    "claims": claims,
    "checks": checks,
    "levels": levels,
    "spectrum": spectrum,
    "ramp": ramp,
    "tradeoff": tradeoff,
    "settling": settling,
    "agreement": agreement,
    "response": response,
}


@functools.cache
def sheet_of(name: str, layout: Layout) -> Sheet:
    """A sample on a page, set once for all tests that only read it."""
    return set_page(CHARTS[name](), layout)


on_all_pages = pytest.mark.parametrize(
    ("name", "layout"), list(itertools.product(CHARTS, Layout)), ids=lambda each: getattr(each, "name", each)
)


def size_of(png: bytes) -> tuple[int, int]:
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    wide, high = struct.unpack(">II", png[16:24])
    return int(wide), int(high)


@on_all_pages
def test_no_words_overlap_or_leave_the_page(name: str, layout: Layout) -> None:
    sheet = sheet_of(name, layout)
    words = words_of(frame.plain_svg(sheet, Theme.LIGHT))
    assert len(words) > 5
    for first, second in itertools.combinations(words, 2):
        assert not first.overlaps(second), (first, second)
    for each in words:
        assert each.left >= 0, each
        assert each.right <= sheet.page.width, each
        assert each.top >= 0, each
        assert each.bottom <= sheet.height, each


@pytest.mark.parametrize("layout", list(Layout))
@pytest.mark.parametrize("count", [3, 10])
def test_hostile_words_do_not_overlap(layout: Layout, count: int) -> None:
    words = words_of(frame.plain_svg(set_page(ranking(count, HOSTILE), layout), Theme.LIGHT))
    for first, second in itertools.combinations(words, 2):
        assert not first.overlaps(second), (first, second)


@pytest.mark.parametrize("name", CHARTS)
def test_the_png_has_exactly_the_size_of_its_page(name: str) -> None:
    assert size_of(drawing.png(sheet_of(name, Layout.WIDE), Theme.LIGHT)) == (3840, 2160)
    assert size_of(drawing.png(sheet_of(name, Layout.SQUARE), Theme.DARK)) == (2160, 2160)
    assert size_of(drawing.png(sheet_of(name, Layout.ARTICLE), Theme.LIGHT))[0] == 1600


@pytest.mark.parametrize("name", CHARTS)
def test_the_smallest_words_can_be_read_at_a_quarter_of_the_size(name: str) -> None:
    sheet = sheet_of(name, Layout.WIDE)
    smallest = min(each.size for each in words_of(frame.plain_svg(sheet, Theme.LIGHT)))
    assert smallest * sheet.page.scale >= 40


@pytest.mark.parametrize("theme", list(Theme))
def test_contrast_holds(theme: Theme) -> None:
    # WCAG 2.2: 1.4.3 text 4.5:1, 1.4.11 marks 3:1. Shades serve as the colour of labels at curves as well.
    colours = PALETTES[theme]
    paper = colours["paper"]
    for name in ("ink", "muted", "accent", "warn", "block"):
        assert contrast(colours[name], paper) >= 4.5, name
    for name in ("quiet-edge", "tied", "tied-edge", "axis", "pale", *HUES, *SHADES):
        assert contrast(colours[name], paper) >= 3.0, name
    # The interval's line runs over bars; where a bar is as dark as the line, a rim of paper parts them.
    for name in ("quiet", "tied", "accent"):
        assert max(contrast(colours["ink"], colours[name]), contrast(paper, colours[name])) >= 3.0, name


def test_contrast_agrees_with_the_standards_ends() -> None:
    # WCAG 2.2, definition of contrast ratio: black on white is 21, equal colours 1; #777777 on white is the
    # commonly quoted 4.48 (from memory).
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#123456", "#123456") == pytest.approx(1.0)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)


def test_both_themes_know_the_same_roles_and_nothing_else_is_used() -> None:
    assert set(PALETTES[Theme.LIGHT]) == set(PALETTES[Theme.DARK])
    with pytest.raises(BadInput, match="colour role"):
        role("purple")
    for name in CHARTS:
        inner = sheet_of(name, Layout.WIDE).inner
        assert set(re.findall(r"var\(--([a-z0-9-]+)\)", inner)) <= set(PALETTES[Theme.LIGHT])
        assert not re.search(r'(fill|stroke)="#', inner)


@pytest.mark.parametrize("name", CHARTS)
def test_the_svg_carries_its_font_and_its_alt_text(name: str) -> None:
    from fontTools.ttLib import TTFont

    chart = CHARTS[name]()
    svg = drawing.svg(sheet_of(name, Layout.WIDE), Theme.LIGHT)
    root = ET.fromstring(svg.encode())
    assert root.get("role") == "img"
    title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert desc is not None
    assert title.text == chart.title
    assert desc.text == chart.alt
    assert root.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"
    faces = re.findall(r"font-weight:(\d+);[^}]*?base64,([A-Za-z0-9+/=]+)", svg)
    assert [weight for weight, _ in faces] == ["400", "600"]
    assert len(svg) < 200_000
    for weight, data in faces:
        known = TTFont(io.BytesIO(base64.b64decode(data))).getBestCmap()
        used = {letter for each in words_of(svg) if each.weight == int(weight) for letter in each.words}
        assert used
        assert {ord(letter) for letter in used} <= set(known)


def test_the_bundled_letters_hold_what_the_trade_writes() -> None:
    for weight in fonts.FILES:
        for letter in "Δ≥≤³²₀₁₂–−·×°%…ηφψλρσµεαβτ0123456789’“”→◆éüßñŁžřşČ\u00a0\u2009\u202f":
            known, _ = fonts._advances(weight)
            assert ord(letter) in known, (weight, letter)


def test_figures_are_tabular() -> None:
    for weight in fonts.FILES:
        assert len({fonts.width(figure, 100.0, weight) for figure in "0123456789"}) == 1


def test_the_same_input_gives_the_same_bytes(tmp_path: Path) -> None:
    for name, build in CHARTS.items():
        first = draw(build(), tmp_path / "a", name, layouts=(Layout.SQUARE,), themes=(Theme.LIGHT,))
        second = draw(build(), tmp_path / "b", name, layouts=(Layout.SQUARE,), themes=(Theme.LIGHT,))
        assert [path.name for path in first] == [path.name for path in second]
        assert [path.read_bytes() for path in first] == [path.read_bytes() for path in second]


def test_draw_writes_all_files_and_leaves_no_part(tmp_path: Path) -> None:
    files = draw(ranking(), tmp_path / "charts", "airflow")
    assert sorted(path.name for path in files) == [
        "airflow-wide-dark.png", "airflow-wide-dark.svg", "airflow-wide-light.png", "airflow-wide-light.svg",
        "airflow.csv", "airflow.html", "airflow.txt",
    ]  # fmt: skip
    assert sorted(path.name for path in (tmp_path / "charts").iterdir()) == sorted(
        path.name for path in files
    )
    assert files[-1].read_text(encoding="utf-8") == ranking().alt + "\n"


def test_a_chart_that_cannot_be_set_writes_nothing(tmp_path: Path) -> None:
    with pytest.raises(BadInput):
        draw(ranking(12), tmp_path / "charts", "airflow")
    assert not (tmp_path / "charts").exists()


def test_a_failed_write_leaves_the_old_file_and_no_part(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = tmp_path / "airflow-wide-light.png"
    old.write_bytes(b"old")

    def refuse(self: Path, target: Path) -> Path:
        raise PermissionError(f"{target} is locked")

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(PermissionError):
        draw(ranking(), tmp_path, "airflow")
    assert old.read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == [old.name]


@pytest.mark.parametrize("name", ["../up", "a/b", "a\\b", "", ".hidden", "con:", "x" * 300])
def test_a_name_that_is_no_file_name_is_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="name of a chart"):
        draw(ranking(), tmp_path, name)


class PageReader(HTMLParser):
    """What a page holds: its tags, its cells, its open tags at the end."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.words: list[str] = []
        self.addresses: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.addresses += [value or "" for name, value in attrs if name in ("src", "href", "xlink:href")]

    def handle_data(self, data: str) -> None:
        self.words.append(data)


@pytest.mark.parametrize("name", CHARTS)
def test_the_page_needs_nothing_from_outside(name: str) -> None:
    chart = CHARTS[name]()
    page = drawing.html(chart)
    reader = PageReader()
    reader.feed(page)
    assert "script" not in reader.tags
    assert all(each.startswith("data:image/png;base64,") for each in reader.addresses)
    assert not reader.addresses or name == "ramp"
    assert reader.tags.count("svg") == 2
    assert "table" in reader.tags
    assert "prefers-color-scheme:dark" in page
    assert PALETTES[Theme.LIGHT]["paper"] in page
    assert PALETTES[Theme.DARK]["paper"] in page
    assert not re.search(r"url\((?!data:|#)", page)
    assert chart.alt in reader.words


def test_the_page_escapes_names_and_keeps_them_whole_in_its_table() -> None:
    chart = ranking(10, HOSTILE)
    page = drawing.html(chart)
    reader = PageReader()
    reader.feed(page)
    assert "script" not in reader.tags
    assert HOSTILE[0] in reader.words
    assert HOSTILE[3] in reader.words
    assert fonts.clean(HOSTILE[1]) in reader.words


def test_the_table_holds_every_fan_with_honest_digits() -> None:
    rows = list(csv.reader(io.StringIO(table_of(ranking()).as_csv())))
    assert rows[0][:5] == [
        "Fan", "Bound", "Airflow through the 27 mm radiator [m³/h]", "95 % from [m³/h]", "95 % to [m³/h]",
    ]  # fmt: skip
    assert rows[1] == ["Tormentil 120", "", "52.3", "51.0", "53.7", "tied for best", ""]
    assert rows[-1] == ["Deergrass", "", "", "", "", "not ranked", "no run through this radiator"]
    assert len(rows) == 13


def test_tables_of_curves_and_collapse_read_back_as_numbers() -> None:
    for chart, columns in ((pq(), (2, 3)), (collapse(), (3, 4, 5))):
        rows = list(csv.reader(io.StringIO(table_of(chart).as_csv())))[1:]
        for row in rows:
            for column in columns:
                float(row[column])
    rows = list(csv.reader(io.StringIO(table_of(collapse()).as_csv())))[1:]
    assert len(rows) == 12 * 14
    assert sum(row[6] == "no, held" for row in rows) == 14


def test_held_points_outside_the_panel_are_counted_and_their_sweep_named() -> None:
    words = [each.words for each in words_of(frame.plain_svg(set_page(collapse(), Layout.WIDE), Theme.LIGHT))]
    assert "14 held points beyond this panel" in words
    assert any(each.startswith("500\u00a0rpm, mounting 2: held") for each in words)


def test_load_lines_are_named_at_their_ends_and_points_say_that_they_are_not_unique() -> None:
    words = [
        each.words.replace("\u00a0", " ")
        for each in words_of(frame.plain_svg(set_page(pq(), Layout.WIDE), Theme.LIGHT))
    ]
    for name in ("mesh filter", "radiator 27 mm", "dense radiator + filter", "Bracken 120 Pro", "Sedge R12"):
        assert words.count(name) == 1, name
    assert any("not unique" in each for each in words)
    assert "airflow, m³/h" in words
    assert "static pressure, Pa" in words


def test_labels_of_nested_curves_stand_nearest_to_their_own(monkeypatch: pytest.MonkeyPatch) -> None:
    chart = speeds()
    words = words_of(frame.plain_svg(set_page(chart, Layout.WIDE), Theme.LIGHT))
    order = [
        each
        for each in sorted(words, key=lambda each: each.base)
        if each.words.endswith("rpm") and each.size < 30
    ]
    assert [each.words.replace("\u00a0", " ") for each in order] == [
        each.label for each in sorted(chart.curves, key=lambda each: -each.pressure[0])
    ]


def test_series_that_do_not_fit_together_are_refused() -> None:
    with pytest.raises(BadInput, match="one length"):
        Curve("Bracken", (0, 1, 2), (3, 2))
    with pytest.raises(BadInput, match="finite"):
        Curve("Bracken", (0, 1), (3, float("nan")))
    with pytest.raises(BadInput, match="at least two"):
        LoadLine("mesh", (0.0,), (0.0,))
    with pytest.raises(BadInput, match="one length"):
        Sweep("a", (0.1,), (0.2,), ())
    empty = dataclasses.replace(pq(), curves=())
    with pytest.raises(BadInput, match="at least one"):
        set_page(empty, Layout.WIDE)
    with pytest.raises(BadInput, match="no points"):
        set_page(dataclasses.replace(collapse(), sweeps=()), Layout.WIDE)


def test_a_load_line_that_never_reaches_the_plot_and_one_that_leaves_at_once() -> None:
    chart = pq()
    steep = LoadLine("wall", (0.0, 0.001), (0.0, 1e6))
    high = LoadLine("elsewhere", (0.0, 10.0), (500.0, 900.0))
    chart = dataclasses.replace(chart, loads=(*chart.loads, steep, high))
    words = [each.words for each in words_of(frame.plain_svg(set_page(chart, Layout.WIDE), Theme.LIGHT))]
    assert "wall" in words
    assert "elsewhere" not in words


@pytest.mark.parametrize(
    ("span", "most", "step", "decimals"),
    [(34.0, 8, 5.0, 0), (0.37, 8, 0.05, 2), (130.0, 5, 50.0, 0), (1.0, 10, 0.1, 1)],
)
def test_ticks_stand_at_round_numbers(span: float, most: int, step: float, decimals: int) -> None:
    assert step_for(span, most) == pytest.approx(step)
    assert decimals_for(step) == decimals
    made = axis(0.0, span, most)
    assert made.ticks[0] == 0
    assert all(abs(tick / step - round(tick / step)) < 1e-9 for tick in made.ticks)
    assert len(made.ticks) <= most + 1


def test_words_are_fitted_and_never_cut_inside_a_letter() -> None:
    family = "👩‍🔬" * 10
    for room in range(20, 200, 7):
        for line in fonts.wrapped(family, 20, fonts.REGULAR, room, 1):
            assert not line.rstrip("…").endswith("\u200d")
    assert fonts.wrapped("", 20, fonts.REGULAR, 100) == [""]
    assert fonts.wrapped("a 95 % interval", 20, fonts.REGULAR, 60)[1] == "95\u00a0%"
    lines = fonts.wrapped("W" * 50, 20, fonts.REGULAR, 100, 2)
    assert len(lines) == 2
    assert lines[-1].endswith("…")
    assert all(fonts.width(line, 20) <= 100 for line in lines)


def test_a_whole_set_is_drawn_in_seconds(tmp_path: Path) -> None:
    draw(ranking(), tmp_path, "warm")
    started = time.process_time()
    draw(ranking(6), tmp_path, "six")
    assert time.process_time() - started < 4.0


def test_unusual_curve_chart_without_loads_or_points_is_set() -> None:
    bare = CurveChart("t", "s", "f", "airflow", "m³/h", "static pressure", "Pa", pq().curves)
    for layout in Layout:
        assert words_of(frame.plain_svg(set_page(bare, layout), Theme.LIGHT))
