"""Bars shown one by one, for video: a chart's wide page taken apart, and put together step by step in the same pixels.

A set has no paper behind it. Its heading asks instead of telling: neither the finding nor a fan's name stands in it.
Bars come from the last to the first. There are two kinds of steps, "hidden" without and "named" with the names of the
bars that are shown, and the finding at the end: the whole page as it is published.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from stillroom import wording
from stillroom.charts import frame, marks
from stillroom.charts.bar_words import mark_room
from stillroom.charts.bars import Plan, cue_svg, plan_of
from stillroom.charts.draw import set_page
from stillroom.charts.fonts import printable
from stillroom.charts.frame import Sheet
from stillroom.charts.layout import Layout
from stillroom.charts.palette import Theme, coloured
from stillroom.charts.raster import Pixels, Strip, png_of, rasterised, strip
from stillroom.charts.series import RankedBars
from stillroom.errors import BadInput

Mask = NDArray[np.bool_]

ORDER = "the last bar first, the best last"
"""In which order bars are shown, in words."""

UNNAMED = "Bars shown one by one"
"""The title of a set for which no words are left that don't name a fan."""

AXIS_ROOM = 32
"""Width in which the axis stands, from the right end of the names [page units]."""

MARGIN = 8
"""How far above and beneath its row a bar's words may reach [page units]."""

_MOVED = re.compile(r"translate\(([-\d.e]+),([-\d.e]+)\)")
_BEGUN = re.compile(r"M([-\d.e]+),([-\d.e]+)")
_SIGNS = re.compile(r"[^\W_]+")


@dataclass(frozen=True)
class Parts:
    """A wide page of bars, taken apart; colours are still roles.

    Parameters
    ----------
    sheet : the page as it is published. title, alt : of the set: without a fan's name, and without the finding.
    heading, cue, axis, closing : SVG that stands from the first step on.
    bars, names : of each row from the top: the bar with its numbers and words; the fan's name.
    top : where the first row begins. pitch : height of a row. columns : between which two places from the
        left the names stand, and nothing else.
    """

    sheet: Sheet
    title: str
    alt: str
    heading: str
    cue: str
    axis: str
    closing: str
    bars: tuple[str, ...]
    names: tuple[str, ...]
    top: float
    pitch: float
    columns: tuple[float, float]


def taken_apart(chart: RankedBars, question: str) -> Parts:
    """The wide page of a ranking in parts.

    Parameters
    ----------
    chart : at most as many bars as the page holds. question : what is asked, in place of the finding; left out where
        a fan's name is part of it.

    Raises
    ------
    BadInput : no bar, or more than the page holds.
    """
    if not chart.bars:
        raise BadInput("bars to show one by one", found="none", expected="one or more")
    sheet = set_page(chart, Layout.WIDE)
    page, names = sheet.page, fans_of(chart)
    plan = plan_of(chart, page, page.width - 2 * page.margin, sheet.foot - sheet.top)
    said = partial(_without, names)
    title = said(question) or said(chart.measure)
    parts = chart.footer.split(frame.SEPARATOR)
    footer = frame.SEPARATOR.join(each for each in map(said, parts) if each)
    heading, closing = frame.other_words(
        sheet, title, said(chart.subtitle), footer, [each for each in map(said, chart.notes) if each]
    )
    axis, bars, named = _rows(sheet.inner, plan, mark_room(page))
    return Parts(
        sheet=sheet,
        title=title or UNNAMED,
        alt=f"{wording.plural(len(bars), 'bar')}, shown one by one, {ORDER}; the fans' names are not told.",
        heading=heading,
        cue=cue_svg(chart, page, plan),
        axis=axis,
        closing=closing,
        bars=bars,
        names=named,
        top=sheet.top + plan.cue,
        pitch=plan.pitch,
        columns=(
            page.margin + mark_room(page) - 0.2 * page.label,
            page.margin + plan.zero - 0.35 * page.label,
        ),
    )


def fans_of(chart: RankedBars) -> tuple[str, ...]:
    """Every fan that a chart knows."""
    return (*(each.label for each in (*chart.bars, *chart.beside)), *(name for name, _ in chart.excluded))


def names_any(words: str, names: Iterable[str]) -> bool:
    """Whether one of these names stands among words, as words of its own, in small or capital letters."""
    said = _folded(words)
    return any(_folded(each).strip() and _folded(each) in said for each in names)


def _folded(words: str) -> str:
    return f" {' '.join(_SIGNS.findall(printable(words).casefold()))} "


def _without(names: Sequence[str], words: str) -> str:
    return "" if names_any(words, names) else words


def _rows(inner: str, plan: Plan, names_at: float) -> tuple[str, tuple[str, ...], tuple[str, ...]]:
    """The marks of a drawn ranking: what belongs to no row (the line at zero); of each row its bar, and its name."""
    axis, bars, names = "", [""] * len(plan.rows), [""] * len(plan.rows)
    for layer in ET.fromstring(f"<svg>{inner}</svg>").iter("g"):
        for each in layer if "role-mark" in layer.get("class", "") else ():
            x, y = _place(each)
            if each.tag == "line" and each.get("y2") != "0":
                axis += _written(each)
            elif each.tag == "text" and abs(x - names_at) < 0.01:
                names[int(y / plan.pitch)] += _written(each)
            else:
                bars[int(y / plan.pitch)] += _written(each)
    return axis, tuple(bars), tuple(names)


def _place(mark: ET.Element) -> tuple[float, float]:
    """Where a mark stands: what it is moved by, or where its line begins."""
    found = _MOVED.search(mark.get("transform", "")) or _BEGUN.search(mark.get("d", ""))
    if found is None:
        raise AssertionError(f"a mark without a place: {mark.attrib}")
    return float(found[1]), float(found[2])


def _written(mark: ET.Element) -> str:
    """A mark as SVG, without words for those who hear the chart: they say the fan's name."""
    kept = {
        name: value for name, value in mark.attrib.items() if name != "role" and not name.startswith("aria-")
    }
    attributes = "".join(f' {name}="{marks.escaped(value)}"' for name, value in kept.items())
    return f"<{mark.tag}{attributes}>{marks.escaped(mark.text or '')}</{mark.tag}>"


# --- as SVG -------------------------------------------------------------------------------------------


def reveal_svg(parts: Parts, theme: Theme, *, named: bool) -> str:
    """A set as one SVG that carries its font: a group for each thing that an editor may move.

    Groups: `heading`, `axis`, `bar-01` (the best) and the following, `name-01` and the following where names are
    shown, `closing`; `data-step` says in which step a bar is shown.
    """
    count = len(parts.bars)
    rows = "".join(
        f'<g id="bar-{place:02d}" data-step="{count + 1 - place}">{bar}</g>'
        for place, bar in enumerate(parts.bars, start=1)
    )
    words = "".join(
        f'<g id="name-{place:02d}" data-step="{count + 1 - place}">{name}</g>'
        for place, name in enumerate(parts.names, start=1)
    )
    inner = (
        parts.heading
        + marks.group(parts.cue, parts.sheet.page.margin, parts.sheet.top, "cue")
        + marks.group(rows + (words if named else ""), parts.sheet.page.margin, parts.top, "bars")
        + marks.group(parts.axis, parts.sheet.page.margin, parts.top, "axis")
        + parts.closing
    )
    sheet = replace(parts.sheet, inner=inner, title=parts.title, alt=parts.alt)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + frame.carrying_svg(sheet, theme) + "\n"


# --- as pictures ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Frame:
    """One step as a picture: how many bars are shown, how ("hidden", "named", "finding"; "" before the first)."""

    shown: int
    kind: str
    png: bytes

    @property
    def name(self) -> str:
        """The stem of its file, without the theme."""
        kind = f"{self.kind}-" if self.kind else ""
        return self.kind if self.kind == FINDING else f"{kind}{self.shown:02d}"


HIDDEN, NAMED, FINDING = "hidden", "named", "finding"


def frames(parts: Parts, theme: Theme) -> Iterator[Frame]:
    """All steps of a set in one theme: before the first bar, without names, with names, and the finding.

    Pictures are of the wide page's exact size, and transparent. A step differs from the one before in the pixels of
    the bar that it shows, and in no other.
    """
    page = parts.sheet.page
    count, wide = len(parts.bars), int(page.width * page.scale)
    stage = _Stage(parts, theme)
    for shown in range(count + 1):
        yield Frame(shown, HIDDEN if shown else "", png_of(stage.step(shown, named=False), wide))
    for shown in range(1, count + 1):
        yield Frame(shown, NAMED, png_of(stage.step(shown, named=True), wide))
    yield Frame(count, FINDING, png_of(stage.finding(), wide))


class _Stage:
    """The pieces of which steps are put together, each drawn and packed once.

    A row is drawn with some room above and beneath, as its words may reach into its neighbours' rows.
    """

    def __init__(self, parts: Parts, theme: Theme) -> None:
        self.parts, self.theme = parts, theme
        page, count = parts.sheet.page, len(parts.bars)
        edges = [round(parts.top + parts.pitch * place) for place in range(count + 1)]
        self.edges = [edges[0] - MARGIN, *edges[1:-1], edges[-1] + MARGIN]
        self.first, self.last = self.edges[0], self.edges[-1]
        self.page_height, self.scale = int(page.height or 0), int(page.scale)
        self.wide = int(page.width)
        cue = marks.group(parts.cue, page.margin, parts.sheet.top, "cue")
        self.axis = self._placed(parts.axis)
        self.asking = self._around(parts.heading + cue + self.axis, self.axis + parts.closing)
        whole = re.sub(r'<rect id="paper"[^>]*/>', "", parts.sheet.inner)
        self.telling = self._around(whole, whole)
        self.empty = self._empty(round(parts.columns[1]))
        self.rows = [self._row(place) for place in range(count)]
        self.packed: dict[tuple[int, bool, tuple[int, ...]], Strip] = {}

    def step(self, shown: int, *, named: bool) -> list[Strip]:
        """The page with the last bars, so many of them."""
        count = len(self.rows)
        bands = [self._band(place, count - shown, named=named) for place in range(count)]
        return [self.asking[0], *bands, self.asking[1]]

    def finding(self) -> list[Strip]:
        """The page as it is published."""
        bands = [self._band(place, 0, named=True) for place in range(len(self.rows))]
        return [self.telling[0], *bands, self.telling[1]]

    def _placed(self, inner: str) -> str:
        return marks.group(inner, self.parts.sheet.page.margin, self.parts.top, "row")

    def _around(self, above: str, beneath: str) -> tuple[Strip, Strip]:
        """What stands above and beneath the bars."""
        return (
            strip(self._pixels(above, 0, self.first)),
            strip(self._pixels(beneath, self.last, self.page_height)),
        )

    def _pixels(self, inner: str, top: int, bottom: int, left: int = 0, right: int = 0) -> Pixels:
        """A part of the page between two heights, and between two sides where they are told, as pixels."""
        size = f"{(right or self.wide) - left} {bottom - top}"
        wide, high = size.split()
        svg = (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}" height="{high}" '
            f'viewBox="{left} {top} {size}">{inner}</svg>'
        )
        return rasterised(coloured(svg, self.theme), self.scale)

    def _empty(self, split: int) -> Pixels:
        """The page without bars, where they will stand: the axis, of which all lies right of the names."""
        out = np.zeros(((self.last - self.first) * self.scale, self.wide * self.scale, 4), np.uint8)
        right = split + AXIS_ROOM
        out[:, split * self.scale : right * self.scale] = self._pixels(
            self.axis, self.first, self.last, split, right
        )
        return out

    def _row(self, place: int) -> tuple[int, Pixels, Pixels]:
        """A row with the axis over it: its first line of pixels below `first`, without and with the fan's name."""
        top = max(self.edges[place] - MARGIN, self.first)
        bottom = min(self.edges[place + 1] + MARGIN, self.last)
        bar = self.parts.bars[place] + self.parts.names[place]
        named = self._pixels(self._placed(bar) + self.axis, top, bottom)
        hidden, start = named.copy(), (top - self.first) * self.scale
        names = slice(*(round(side) * self.scale for side in self.parts.columns))
        hidden[:, names] = self.empty[start : start + len(named), names]
        return start, hidden, named

    def _band(self, place: int, first: int, *, named: bool) -> Strip:
        """The pixels that belong to one row: its own bar and what reaches in from its neighbours, where shown."""
        low, high = ((self.edges[place + side] - self.first) * self.scale for side in (0, 1))
        near = range(max(first, place - 1), min(place + 2, len(self.rows)))
        inside = tuple(each for each in near if each == place or self._reaches(each, low, high))
        key = (place, named, inside)
        if key not in self.packed:
            self.packed[key] = strip(self._drawn(inside, low, high, named=named))
        return self.packed[key]

    def _reaches(self, place: int, low: int, high: int) -> bool:
        """Whether a row has ink between two lines of pixels."""
        ink = self._ink(place, low, high, named=True)
        return ink is not None and bool(ink[1].any())

    def _ink(self, place: int, low: int, high: int, *, named: bool) -> tuple[slice, Mask, Pixels] | None:
        """Where a row differs from the page without bars between two lines of pixels, and its pixels there."""
        top, *kinds = self.rows[place]
        pixels = kinds[named]
        start, end = max(low, top), min(high, top + len(pixels))
        if start >= end:
            return None
        own = pixels[start - top : end - top]
        mask = own.view(np.uint32)[:, :, 0] != self.empty[start:end].view(np.uint32)[:, :, 0]
        return slice(start - low, end - low), mask, own

    def _drawn(self, rows: Sequence[int], low: int, high: int, *, named: bool) -> Pixels:
        """The pixels of these rows between two lines, all that is ink laid on the page without bars."""
        out = self.empty[low:high].copy()
        inks = [self._ink(each, low, high, named=named) for each in rows]
        for where, mask, own in (each for each in inks if each is not None):
            np.copyto(out[where], own, where=mask[:, :, None])
        return out
