"""Ranked bars: order, lengths, words, and what is refused."""

from __future__ import annotations

import dataclasses
import itertools
import math

import pytest
from chart_samples import HOSTILE, NAMES, bars_of, ranking, words_of

from stillroom.charts import frame
from stillroom.charts.bars import value_words
from stillroom.charts.draw import set_page
from stillroom.charts.layout import Layout
from stillroom.charts.palette import Theme
from stillroom.charts.series import Bar, RankedBars
from stillroom.errors import BadInput


def drawn(chart: RankedBars, layout: Layout) -> str:
    return frame.plain_svg(set_page(chart, layout), Theme.LIGHT)


@pytest.mark.parametrize("layout", list(Layout))
@pytest.mark.parametrize("count", [1, 6, 10])
def test_names_values_and_bars_keep_the_given_order(layout: Layout, count: int) -> None:
    # Values against the alphabet and against their own size: neither sort may creep in.
    names = ("Whin", "Alder", "Sedge", "Bracken", "Thyme", "Cress", "Moss", "Dock", "Rush", "Fern")
    bars = tuple(
        Bar(name, value, value - 1, value + 1)
        for name, value in zip(names, (40, 52, 31, 47, 36, 50, 33, 45, 38, 42), strict=True)
    )
    chart = dataclasses.replace(ranking(), bars=bars[:count])
    svg = drawn(chart, layout)
    by_height = sorted(words_of(svg), key=lambda each: each.base)
    assert [each.words for each in by_height if each.words in names] == list(names[:count])
    rows = sorted(bars_of(svg), key=lambda each: each.middle)
    assert [row.words.split(":")[0] for row in rows] == list(names[:count])
    values = [value_words(bar) for bar in bars[:count]]
    for row, value in zip(rows, values, strict=True):
        near = min(
            (each for each in words_of(svg) if each.words == value),
            key=lambda each: abs(each.base - row.middle),
        )
        assert abs(near.base - row.middle) < 0.6 * near.size
        assert near.left > row.right


@pytest.mark.parametrize("layout", list(Layout))
def test_bars_start_at_zero_and_are_as_long_as_their_values(layout: Layout) -> None:
    chart = ranking()
    rows = sorted(bars_of(drawn(chart, layout)), key=lambda each: each.middle)
    assert len({row.left for row in rows}) == 1
    unit = (rows[0].right - rows[0].left) / chart.bars[0].value
    for row, bar in zip(rows, chart.bars, strict=True):
        assert (row.right - row.left) / unit == pytest.approx(bar.value, rel=1e-3)


@pytest.mark.parametrize("layout", list(Layout))
def test_every_fan_tied_with_the_leader_carries_one_word_and_one_mark(layout: Layout) -> None:
    svg = drawn(ranking(), layout)
    said = [each for each in words_of(svg) if each.words.startswith("tied for best")]
    assert len(said) == 4
    assert svg.count('aria-roledescription="bar"') == 10
    # One diamond for each of the four: the only symbol marks of a ranking.
    symbols = svg.split('class="mark-symbol', 1)[1].split("</g>", 1)[0]
    assert symbols.count("<path") == 4


def test_fans_that_cannot_be_ranked_are_listed_with_the_reason() -> None:
    for layout in Layout:
        words = " ".join(each.words for each in words_of(drawn(ranking(), layout))).replace("\u00a0", " ")
        assert "Not ranked: Cottongrass 140 and Deergrass (no run through this radiator)." in words


def test_notes_that_have_no_room_give_way_to_the_bars() -> None:
    """Ten bars under two lines of title and subtitle: the first notes stand, the others are in the table."""
    long = "words that go on and on until no room is left for anything else on this page"
    chart = dataclasses.replace(
        ranking(10), title=long, subtitle=f"{long}, {long}", notes=(f"First: {long}",) * 6
    )
    svg = drawn(chart, Layout.WIDE)
    assert len(bars_of(svg)) == 10
    assert any(each.words.startswith("Not ranked: ") for each in words_of(svg))
    assert sum(each.words.startswith("First: ") for each in words_of(svg)) < 6


def test_thirty_bars_hold_on_the_article_page_and_are_refused_elsewhere() -> None:
    chart = ranking(30)
    svg = drawn(chart, Layout.ARTICLE)
    assert len(bars_of(svg)) == 30
    with pytest.raises(BadInput, match="at most 10"):
        set_page(chart, Layout.WIDE)
    with pytest.raises(BadInput, match="at most 30"):
        set_page(ranking(31), Layout.ARTICLE)


@pytest.mark.parametrize("layout", [Layout.WIDE, Layout.SQUARE])
def test_long_titles_and_many_excluded_fans_still_leave_ten_bars_their_room(layout: Layout) -> None:
    chart = dataclasses.replace(
        ranking(),
        title="Through the 27 mm radiator and a fine filter four of the ten fans can’t be told apart",
        subtitle="Airflow at full speed, m³/h, brought to 1.2 kg/m³ and to the nominal speed of each fan, "
        * 2,
        footer="Nozzle chamber, ISO 5801, 41 mountings, 95 % intervals, pooled spread of 2025, " * 3,
        excluded=tuple((f"Fan number {k}", "the sweep does not reach this radiator") for k in range(30)),
    )
    svg = drawn(chart, layout)
    assert len(bars_of(svg)) == 10
    words = words_of(svg)
    for first, second in itertools.combinations(words, 2):
        assert not first.overlaps(second), (first, second)
    assert max(each.bottom for each in words) <= (layout.page.height or 0)
    title = " ".join(each.words for each in words if each.size > 1.3 * layout.page.text)
    assert title.replace("\u00a0", " ") == chart.title


@pytest.mark.parametrize("layout", [Layout.WIDE, Layout.SQUARE])
@pytest.mark.parametrize("many", [4, 60])
def test_crowded_words_are_cut_after_a_word_and_the_date_stays(layout: Layout, many: int) -> None:
    foot = (
        "Heatherside Fan Laboratory (invented) · method heat 1, heat mounting 2, sound mounting 4 · twelve samples, "
        "18 mountings, lines show 95 % · 2026-11-26" + " · bench accuracy not told: all" * (many // 10)
    )
    whole = (
        "Temperature rise over the air going in through radiator, 27 mm thick (rad27, version 2), K, at 35 dBA at "
        "0.5 m, 300 W on heat-1, 120 mm fans; 4 more not shown"
    )
    chart = dataclasses.replace(
        ranking(),
        subtitle=whole,
        footer=foot,
        excluded=tuple(
            (f"Extraordinarily-Long-Name Number{k}", "no heat run of it that counts") for k in range(many)
        ),
    )
    svg = drawn(chart, layout)
    assert len(bars_of(svg)) == 10
    lines = [each.words.replace("\u00a0", " ") for each in words_of(svg)]
    told = " ".join(lines)
    assert whole in told
    assert any("2026-11-26" in each for each in lines)
    known = set(f"{whole} {foot} Not ranked: no heat run of it that counts and".split()) | {
        f"Number{k}{sign}" for k in range(many) for sign in ("", ",")
    }
    cut = [each for each in lines[-6:] if "…" in each]
    assert len(cut) >= (1 if many > 50 else 0)
    for each in cut:
        last = each.partition("…")[0].split()[-1]
        assert any(word.rstrip(" ,;·(") == last.rstrip(",") for word in known) or last.startswith("Extra"), (
            each
        )


@pytest.mark.parametrize("layout", list(Layout))
@pytest.mark.parametrize("names", [NAMES, HOSTILE], ids=["usual", "hostile"])
def test_no_words_stand_on_a_bar(layout: Layout, names: tuple[str, ...]) -> None:
    svg = drawn(ranking(10, names), layout)
    for bar in bars_of(svg):
        for each in words_of(svg):
            beside = each.right <= bar.left or each.left >= bar.right
            above_or_below = each.base <= bar.middle - 2 or each.top >= bar.middle + 2
            assert beside or above_or_below, (each, bar)


def test_a_lower_limit_is_said_with_its_sign() -> None:
    bar = ranking().bars[8]
    assert value_words(bar).startswith("≥")
    assert any(each.words == value_words(bar) for each in words_of(drawn(ranking(), Layout.WIDE)))


def test_a_bar_without_interval_draws_no_line_and_claims_no_digits() -> None:
    chart = dataclasses.replace(
        ranking(), bars=(Bar("Legacy", 41.23456, None, None, note="legacy"),), excluded=()
    )
    svg = drawn(chart, Layout.WIDE)
    assert any(each.words == "41.2" for each in words_of(svg))
    rules = [part for part in svg.split('class="mark-rule')[1:] if "<line" in part.split("</g>", 1)[0]]
    assert len(rules) == 1  # the zero line only


def test_a_ranking_without_bars_says_so() -> None:
    chart = dataclasses.replace(ranking(), bars=())
    assert any(each.words == "No fan could be ranked." for each in words_of(drawn(chart, Layout.WIDE)))


def test_an_interval_below_zero_stays_on_the_page() -> None:
    chart = dataclasses.replace(ranking(), bars=(Bar("Moss", 0.4, -0.6, 1.4), Bar("Fern", 0.0, -0.5, 0.5)))
    svg = drawn(chart, Layout.WIDE)
    left = min(row.left for row in bars_of(svg))
    names = [each for each in words_of(svg) if each.words in ("Moss", "Fern")]
    assert all(each.right < left for each in names)


@pytest.mark.parametrize("layout", list(Layout))
def test_hostile_names_are_set_as_words(layout: Layout) -> None:
    svg = drawn(ranking(10, HOSTILE), layout)  # parsing it at all is half of the check
    assert "<script" not in svg
    assert "\u202e" not in svg
    assert "\x00" not in svg
    page = layout.page
    assert any(each.words == "unnamed" for each in words_of(svg))
    for each in words_of(svg):
        assert each.left >= 0.4 * page.margin, each
        assert each.right <= page.width - 0.4 * page.margin, each
    assert len(bars_of(svg)) == 10


@pytest.mark.parametrize(
    "change",
    [
        {"value": math.nan},
        {"value": math.inf},
        {"value": -1.0},
        {"low": 60.0},
        {"low": None},
        {"high": math.nan},
    ],
)
def test_what_cannot_be_drawn_honestly_is_refused(change: dict[str, float | None]) -> None:
    fields: dict[str, float | None] = {"value": 50.0, "low": 49.0, "high": 51.0} | change
    with pytest.raises(BadInput, match="Bracken"):
        Bar("Bracken", fields["value"] or 0.0, fields["low"], fields["high"])
