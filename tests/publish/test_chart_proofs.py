"""Proofs on a release's charts, read back from what is drawn: boxes, sizes, contrast, order and verdicts, the bytes."""

from __future__ import annotations

import dataclasses
import itertools
import re

import pytest
from pack_reading import HOSTILE, bars_of, colours_of, grown, overlapping, size_of, words_of

from stillroom import wording
from stillroom.charts import draw, frame
from stillroom.charts.fonts import ELLIPSIS, printable
from stillroom.charts.layout import Layout
from stillroom.charts.marks import named
from stillroom.charts.palette import PALETTES, Theme, contrast
from stillroom.charts.series import RankedBars
from stillroom.lab.pictures import multiples
from stillroom.publish.contents import Contents, Published
from stillroom.publish.pack import ranked
from stillroom.publish.pack.belonging import ALL_LAYOUTS, Belongs, belonging

LONG = tuple(f"Grandiflora Quiet Edition {number} with a rubber frame" for number in range(1, 26))
MANY = tuple(f"Fan {number}" for number in range(1, 26))
TEXT, MARKS = 4.5, 3.0
"""Least contrast of text and of marks (WCAG 2.2, 1.4.3 and 1.4.11)."""


@pytest.fixture(scope="module")
def pack(gathered: Contents) -> list[Belongs]:
    """The charts of the demo lab's release, with a fan under review."""
    return belonging(gathered)[0]


def bars(pack: list[Belongs]) -> list[Belongs]:
    return [each for each in pack if isinstance(each.whole, RankedBars)]


# --- words --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("layout", ALL_LAYOUTS, ids=lambda each: each.page.name)
def test_no_words_overlap_or_leave_the_page(pack: list[Belongs], layout: Layout) -> None:
    for each in pack:
        sheet = draw.set_page(each.pages[layout], layout)
        assert overlapping(sheet) == [], each.name


@pytest.mark.parametrize("layout", ALL_LAYOUTS, ids=lambda each: each.page.name)
def test_no_word_is_cut(pack: list[Belongs], layout: Layout) -> None:
    for each in pack:
        drawn = frame.plain_svg(draw.set_page(each.pages[layout], layout), Theme.LIGHT)
        words = [one.words for one in words_of(drawn)]
        # After a whole note it stands for those that stand beneath.
        assert not [one for one in words if ELLIPSIS in one.removesuffix(f" {ELLIPSIS}")], each.name
        if isinstance(each.pages[layout], RankedBars):
            said = " ".join(words)
            assert [bar.label for bar in each.pages[layout].bars if bar.label not in said] == []


@pytest.mark.parametrize("layout", ALL_LAYOUTS, ids=lambda each: each.page.name)
@pytest.mark.parametrize(
    ("names", "tied"),
    [(HOSTILE, 3), (LONG, 4), (LONG, 25), (MANY, 12), (MANY, 1)],
    ids=["hostile", "long", "long and tied", "more tied than room", "many"],
)
def test_hostile_names_and_many_fans_do_not_overlap(
    gathered: Contents, layout: Layout, names: tuple[str, ...], tied: int
) -> None:
    one = of_many(gathered.published[0], names, tied)
    contents = dataclasses.replace(gathered, highlight=names[-1])
    chart, _ = ranked.bars(contents, one, layout.page.bars)
    assert overlapping(draw.set_page(chart, layout)) == []
    across = multiples.through_obstacles(gathered.book, [one.ranking, one.ranking])
    panels, _ = multiples.panels(
        gathered.book, [one.ranking, one.ranking], one.measure, names[-1], across=across
    )
    assert overlapping(draw.set_page(panels, layout)) == []


def of_many(one: Published, names: tuple[str, ...], tied: int) -> Published:
    return dataclasses.replace(one, ranking=grown(one.ranking, names, tied))


# --- sizes and bytes ----------------------------------------------------------------------------------------


def test_pictures_have_exactly_the_size_of_their_page_and_the_same_bytes_again(pack: list[Belongs]) -> None:
    sizes = {Layout.WIDE: (3840, 2160), Layout.SQUARE: (2160, 2160)}
    kinds = list({each.kind: each for each in pack}.values())
    for each, layout in zip(kinds, itertools.cycle(ALL_LAYOUTS)):
        sheet = draw.set_page(each.pages[layout], layout)
        made = draw.png(sheet, Theme.DARK)
        wide, high = size_of(made)
        if layout in sizes:
            assert (wide, high) == sizes[layout], each.name
        else:
            assert (wide, abs(high - 2 * sheet.height) < 1) == (1600, True), each.name
        again = draw.set_page(each.pages[layout], layout)
        assert draw.svg(sheet, Theme.DARK) == draw.svg(again, Theme.DARK)
        assert layout is Layout.WIDE or made == draw.png(again, Theme.DARK)


# --- colours ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("theme", list(Theme))
def test_words_and_marks_stand_out_from_the_paper_as_drawn(pack: list[Belongs], theme: Theme) -> None:
    colours = PALETTES[theme]
    paper = colours["paper"]
    # Bars that step back are pale inside and have an edge; hairlines part areas and tell nothing; a casing is paper.
    aside = {paper, colours["quiet"], colours["hairline"]}
    for each in pack:
        drawn = frame.plain_svg(draw.set_page(each.pages[Layout.WIDE], Layout.WIDE), theme)
        for colour in colours_of(drawn, ("fill",), ("text",)):
            assert contrast(colour, paper) >= TEXT, (each.name, colour)
        marks = colours_of(drawn, ("fill", "stroke"), ("path", "line", "circle"))
        for colour in marks - aside:
            assert contrast(colour, paper) >= MARKS, (each.name, colour)
        if isinstance(each.whole, RankedBars) and colours["quiet"] in marks:
            assert colours["quiet-edge"] in marks, each.name


# --- order and verdicts -------------------------------------------------------------------------------------


@pytest.mark.parametrize("layout", ALL_LAYOUTS, ids=lambda each: each.page.name)
def test_order_values_and_verdicts_are_those_of_the_standings(
    gathered: Contents, pack: list[Belongs], layout: Layout
) -> None:
    published = {each.slug: each for each in gathered.published}
    for each in bars(pack):
        found = published[each.slug].ranking
        drawn = frame.plain_svg(draw.set_page(each.pages[layout], layout), Theme.LIGHT)
        rows = sorted(bars_of(drawn), key=lambda bar: bar.middle)
        seen = [row for row in rows if "no value" not in row.words]
        words = [one.words for one in words_of(drawn)]
        if each.whole.starts_at is None:
            assert [row.words.split(":")[0] for row in seen] == [one.fan for one in found.standings]
        names = [one for one in words if one in {standing.fan for standing in found.standings}]
        assert sorted(names) == sorted(one.fan for one in found.standings)
        tied = [row.words.split(":")[0] for row in seen if wording.mark_for(len(found.best)) in row.words]
        assert each.whole.starts_at is not None or tied == list(found.best)
        assert sum(wording.mark_for(len(found.best)) in one for one in words) >= len(found.best)
        assert len(re.findall("M-?[0-9.]+,0L0,-", drawn)) == len(found.best), "a mark for each of the best"


def test_lengths_are_in_proportion_to_the_values(gathered: Contents, pack: list[Belongs]) -> None:
    published = {each.slug: each for each in gathered.published}
    for each in bars(pack):
        if each.whole.starts_at is not None:
            continue
        drawn = frame.plain_svg(draw.set_page(each.pages[Layout.WIDE], Layout.WIDE), Theme.LIGHT)
        values = [one for one in published[each.slug].ranking.standings if one.bound.value != "range"]
        lengths = {
            row.words.split(":")[0]: row.right - row.left for row in bars_of(drawn) if row.right > row.left
        }
        rates = [lengths[one.fan] / one.value for one in values if one.fan in lengths and one.value > 0]
        assert max(rates) == pytest.approx(min(rates), rel=1e-6)


def test_hostile_names_stand_whole_where_there_is_room(gathered: Contents) -> None:
    one = of_many(gathered.published[0], HOSTILE, 2)
    chart, _ = ranked.bars(dataclasses.replace(gathered, highlight=""), one, 10)
    drawn = frame.plain_svg(draw.set_page(chart, Layout.WIDE), Theme.LIGHT)
    said = {each.words for each in words_of(drawn)}
    short = [each for each in HOSTILE if len(each) < 20]
    assert [each for each in short if named(printable(each)) not in said] == []
