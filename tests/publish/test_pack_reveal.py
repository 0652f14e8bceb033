"""Bars shown one by one: the same pixels from step to step, and no name before its time."""

from __future__ import annotations

import base64
import dataclasses
import io
import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import numpy as np
import pytest
from pack_reading import HOSTILE, SVG, rows_of, size_of, words_of

from stillroom.charts import draw
from stillroom.charts.fonts import clean, printable
from stillroom.charts.layout import Layout
from stillroom.charts.palette import PALETTES, Theme
from stillroom.charts.raster import Box, Pixels, pixels_of, png_of, rasterised, strip, unmixed
from stillroom.charts.reveal import names_any, reveal_svg, taken_apart
from stillroom.charts.reveal_frames import Frame, frames
from stillroom.charts.series import Bar, RankedBars
from stillroom.errors import BadInput

FANS = ("Tormentil 120", "Bracken 120 Pro", "Sedge R12")


def ranking(names: tuple[str, ...] = FANS) -> RankedBars:
    """A ranking whose words name its fans wherever words may stand."""
    bars = [
        Bar(name, 50.0 - index, 48.0 - index, 52.0 - index, "tied for best" if index < 2 else "", index < 2)
        for index, name in enumerate(names)
    ]
    return RankedBars(
        f"{names[0]} moves the most air",
        "Airflow at full speed, m³/h",
        "longer is better",
        f"Heatherside · air not recorded: {names[1]} · 2026-11-25",
        "m³/h",
        tuple(bars),
        (("Deergrass", f"as {names[0]}"),),
        f"{names[0]} leads.",
        "Airflow",
        notes=("Dots stand for nothing.", f"{names[-1]} was loud."),
    )


@pytest.fixture(scope="module")
def steps() -> dict[str, Frame]:
    return {each.name: each for each in frames(taken_apart(ranking(), "Airflow through rad27"), Theme.LIGHT)}


def test_a_set_has_its_steps_in_the_exact_size(steps: dict[str, Frame]) -> None:
    assert list(steps) == [
        "00", "hidden-01", "hidden-02", "hidden-03", "named-01", "named-02", "named-03", "finding",
    ]  # fmt: skip
    assert {size_of(each.png) for each in steps.values()} == {(3840, 2160)}


@pytest.mark.parametrize("kind", ["hidden", "named"])
def test_a_step_changes_the_pixels_of_its_own_bar_only(steps: dict[str, Frame], kind: str) -> None:
    pictures = [rows_of(steps[name].png) for name in ("00", f"{kind}-01", f"{kind}-02", f"{kind}-03")]
    parts = taken_apart(ranking(), "Airflow")
    for shown, (before, after) in enumerate(pairwise(pictures), start=1):
        lines = np.flatnonzero((before != after).any(axis=(1, 2)))
        top = 2 * (parts.top + parts.pitch * (len(FANS) - shown))
        assert len(lines) > 20
        assert lines.min() >= top - 1
        assert lines.max() <= top + 2 * parts.pitch + 1


def test_nothing_stands_behind_the_bars(steps: dict[str, Frame]) -> None:
    empty = rows_of(steps["00"].png)
    assert empty[0, 0, 3] == 0
    assert (empty[:, :, 3] > 0).mean() < 0.05


def test_hidden_and_named_steps_of_a_quiet_bar_differ_in_its_name_alone(steps: dict[str, Frame]) -> None:
    hidden, named = rows_of(steps["hidden-01"].png), rows_of(steps["named-01"].png)
    columns = np.flatnonzero((hidden != named).any(axis=(0, 2)))
    left, right = (2 * each for each in taken_apart(ranking(), "Airflow").columns)
    assert left <= columns.min()
    assert columns.max() < right


def telling() -> RankedBars:
    """A ranking whose bars tell all that a bar can: under review, too close to call, legacy, notes."""
    first, second, third = ranking().bars
    return dataclasses.replace(
        ranking(),
        bars=(
            dataclasses.replace(first, accent=True, mark_word="too close to call", note="one sample"),
            dataclasses.replace(second, mark_word="too close to call"),
            dataclasses.replace(third, note="from before", is_legacy=True),
        ),
    )


DIAMOND = "L0,-"
"""What no other mark's outline has: a corner straight above its place."""


@pytest.mark.parametrize("starts_at", [None, 20.0])
def test_hidden_bars_tell_nothing_but_their_numbers(starts_at: float | None) -> None:
    chart = dataclasses.replace(telling(), starts_at=starts_at)
    parts = taken_apart(chart, "Airflow")
    hidden, named = (
        ET.fromstring(reveal_svg(parts, Theme.LIGHT, named=each).encode()) for each in (False, True)
    )
    for root, tells in ((hidden, False), (named, True)):
        bars = [each for each in root.iter(f"{SVG}g") if (each.get("id") or "").startswith("bar-")]
        words = [text.text for bar in bars for text in bar.iter(f"{SVG}text")]
        colours = {value for bar in bars for each in bar.iter() for value in each.attrib.values()}
        loud = {PALETTES[Theme.LIGHT][each] for each in ("accent", "tied", "tied-edge")}
        diamonds = [each for bar in bars for each in bar.iter(f"{SVG}path") if DIAMOND in each.get("d", "")]
        assert len(diamonds) == (2 if tells else 0)
        assert bool(colours & loud) == tells
        assert (words == ["50.0", "49.0", "48.0"]) == (not tells)
        assert ("too close to call" in words) == tells


def test_hidden_and_named_pictures_share_all_but_what_names_tell() -> None:
    made = {each.name: rows_of(each.png) for each in frames(taken_apart(telling(), "Airflow"), Theme.LIGHT)}
    parts = taken_apart(telling(), "Airflow")
    differ = (made["hidden-03"] != made["named-03"]).any(axis=2)
    lines = np.flatnonzero(differ.any(axis=1))
    assert lines.min() >= 2 * parts.top
    assert lines.max() <= 2 * (parts.top + 3 * parts.pitch)
    accent = [int(PALETTES[Theme.LIGHT]["accent"][place : place + 2], 16) for place in (1, 3, 5)]
    counts = {
        name: int(((picture[:, :, :3] == accent).all(axis=2) & (picture[:, :, 3] == 255)).sum())
        for name, picture in made.items()
    }
    assert counts["hidden-03"] == 0
    assert counts["named-03"] > 10_000


@pytest.mark.parametrize("named", [False, True])
def test_the_pictures_are_those_of_the_drawing(steps: dict[str, Frame], named: bool) -> None:
    # A second route: the whole drawing rasterised at once. So the hidden picture holds what the hidden drawing does.
    parts = taken_apart(ranking(), "Airflow through rad27")
    whole = drawn_at_once(reveal_svg(parts, Theme.LIGHT, named=named))
    made = rows_of(steps["named-03" if named else "hidden-03"].png)
    assert_alike(whole, made)


def drawn_at_once(drawing: str) -> Pixels:
    """A whole drawing as pixels."""
    inner = re.sub(
        r"<style>.*?</style>|<\?xml[^>]*>|<svg[^>]*>|</svg>|<(title|desc)[^>]*>[^<]*</\1>", "", drawing
    )
    return rasterised(inner, Box(0, 0, 1920, 1080), 2)


def assert_alike(one: Pixels, other: Pixels) -> None:
    """The same to two steps of 255, colours weighed by how much they cover."""
    differ = (one != other).any(axis=2)
    first, second = (each[differ].astype(int) for each in (one, other))
    assert np.abs(first[:, :3] * first[:, 3:] - second[:, :3] * second[:, 3:]).max(initial=0) <= 2 * 255
    assert np.abs(first[:, 3] - second[:, 3]).max(initial=0) <= 2


@pytest.mark.parametrize("theme", list(Theme))
def test_the_finding_on_paper_is_the_wide_chart(theme: Theme) -> None:
    *_, last = frames(taken_apart(ranking(), "Airflow"), theme)
    wide = rows_of(draw.png(draw.set_page(ranking(), Layout.WIDE), theme))
    told = rows_of(last.png)
    paper = [int(PALETTES[theme]["paper"][place : place + 2], 16) for place in (1, 3, 5)]
    ink = told[..., 3] > 0
    assert (wide[~ink][:, :3] == paper).all()
    drawn = told[ink].astype(float)
    cover = drawn[:, 3:] / 255
    assert np.abs(drawn[:, :3] * cover + np.array(paper) * (1 - cover) - wide[ink][:, :3]).max() <= 2.5


def test_black_and_white_tell_what_covers_and_its_colour() -> None:
    # The definition of "over" (Porter and Duff 1984): a·c + (1 − a)·ground, here for every a and some colours.
    cover = np.arange(256)[:, None] / 255
    for colour in ([236, 232, 223], [30, 36, 48], [0, 255, 128]):
        on = [np.full((256, 1, 4), 255, np.uint8), np.full((256, 1, 4), 255, np.uint8)]
        for picture, ground in zip(on, (0, 255), strict=True):
            picture[:, 0, :3] = np.round(cover * colour + (1 - cover) * ground)
        found = unmixed(*on)[:, 0].astype(float)
        assert np.abs(found[:, 3] - np.arange(256)).max() <= 1
        mixed = found[:, :3] * found[:, 3:] / 255
        assert np.abs(mixed - cover * colour).max() <= 1.5


@pytest.mark.parametrize("theme", list(Theme))
@pytest.mark.parametrize("names", [FANS, HOSTILE])
def test_no_name_stands_in_a_hidden_drawing(theme: Theme, names: tuple[str, ...]) -> None:
    parts = taken_apart(ranking(names), "Airflow through rad27")
    drawing = reveal_svg(parts, theme, named=False)
    root = ET.fromstring(drawing.encode())
    said = [each.text or "" for each in root.iter() if each.tag != f"{SVG}style"]
    said += [value for each in root.iter() for value in each.attrib.values()]
    for words in said:
        assert not names_any(words, (*names, "Deergrass")), words
    assert "aria-label" not in drawing.replace("aria-labelledby", "")
    shown = {each.words for each in words_of(reveal_svg(parts, theme, named=True))}
    assert not names_any(" / ".join(each.words for each in words_of(drawing)), names)
    assert any(names_any(" ".join(shown), (name,)) for name in names)


def test_a_hidden_drawing_carries_no_letters_of_the_names() -> None:
    from fontTools.ttLib import TTFont

    drawing = reveal_svg(taken_apart(ranking(("Žluťoučký", "B", "C")), "Airflow"), Theme.LIGHT, named=False)
    for data in re.findall(r"base64,([A-Za-z0-9+/=]+)", drawing):
        assert ord("Ž") not in TTFont(io.BytesIO(base64.b64decode(data))).getBestCmap()


def test_the_drawing_has_a_group_for_each_thing_that_moves() -> None:
    parts = taken_apart(ranking(), "Airflow through rad27")
    root = ET.fromstring(reveal_svg(parts, Theme.DARK, named=True).encode())
    named = {each.get("id"): each for each in root.iter(f"{SVG}g") if each.get("id")}
    assert {"heading", "cue", "axis", "closing", "bar-01", "bar-03", "name-01", "name-03"} <= set(named)
    assert named["bar-01"].get("data-step") == "3"
    assert named["name-01"][0].text == FANS[0]
    assert named["name-03"][0].text == FANS[2]
    hidden = reveal_svg(parts, Theme.DARK, named=False)
    assert 'id="name-' not in hidden
    assert "var(--" not in hidden


def test_a_set_asks_and_does_not_tell() -> None:
    words = [
        each.words
        for each in words_of(reveal_svg(taken_apart(ranking(), "Airflow"), Theme.LIGHT, named=False))
    ]
    assert words[0] == "Airflow"
    assert "Dots stand for nothing." in words
    assert "Heatherside · 2026-11-25" in words
    unasked = taken_apart(ranking(), "Airflow of Sedge R12")
    assert unasked.title == "Airflow"


def test_names_are_found_as_words_of_their_own() -> None:
    assert names_any("as SEDGE r12, loud", ("Sedge R12",))
    assert not names_any("Sedge R120", ("Sedge R12",))
    assert not names_any("anything", ("", " ", "—"))


def test_rows_whose_words_reach_into_each_other_lose_nothing() -> None:
    long = tuple(f"Ångström gyroplane quiet edition with a very long name {each}" for each in range(10))
    parts = taken_apart(ranking(long), "Airflow")
    made = {each.name: each.png for each in frames(parts, Theme.LIGHT)}
    whole = drawn_at_once(reveal_svg(parts, Theme.LIGHT, named=True))
    lost = whole[..., 3].astype(int) - rows_of(made["named-10"])[..., 3]
    assert (
        lost > 40
    ).sum() <= 20  # letters of two rows that share a pixel; a step of the rasteriser's cover is 16


def test_dots_and_missing_rows_are_shown_too() -> None:
    chart = ranking()
    gone = Bar("Heath", 0.0, None, None, note="can't run this quiet", is_missing=True)
    chart = dataclasses.replace(chart, starts_at=20.0, bars=(*chart.bars, gone))
    made = list(frames(taken_apart(chart, "Level"), Theme.DARK))
    first, second = rows_of(made[0].png), rows_of(made[1].png)
    assert (first != second).any()
    assert "can't run this quiet" in {
        each.words for each in words_of(reveal_svg(taken_apart(chart, "Level"), Theme.DARK, named=False))
    }


def test_a_chart_without_bars_cannot_be_shown_one_by_one() -> None:
    with pytest.raises(BadInput, match="one by one"):
        taken_apart(dataclasses.replace(ranking(), bars=()), "Airflow")


def test_strips_make_one_picture_that_any_reader_can_read() -> None:
    draws = np.random.default_rng(7)
    whole = draws.integers(0, 256, (31, 17, 4), dtype=np.uint8)
    made = png_of([strip(whole[:5]), strip(whole[5:6]), strip(whole[6:])], 17)
    assert (rows_of(made) == whole).all()
    assert (pixels_of(made) == whole).all()
    assert made == png_of([strip(whole[:5]), strip(whole[5:6]), strip(whole[6:])], 17)


def test_names_that_cannot_be_set_are_still_hidden() -> None:
    odd = ("مروحة هادئة", "\u202egnirts", "🌀")
    drawing = reveal_svg(taken_apart(ranking(odd), "Airflow"), Theme.LIGHT, named=False)
    for each in odd:
        assert clean(each) not in drawing
        assert printable(each) not in drawing
