"""The steps of a reveal set as pictures: each piece is drawn and packed once, and stands in all steps that show it.

Only the places where something stands are drawn: on a transparent page of this size the rasteriser spends its time on
what is empty.
"""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.charts import marks
from stillroom.charts.fonts import width
from stillroom.charts.palette import Theme, coloured
from stillroom.charts.raster import Box, Pixels, Strip, png_of, rasterised, strip
from stillroom.charts.reveal import Parts, place_of, written

Mask = NDArray[np.bool_]

AXIS_ROOM = 32
"""Width in which the axis stands, from the right end of the names [page units]."""

MARGIN = 8
"""How far above and beneath its row a bar's words may reach [page units]."""

SLACK = 1.04
"""By how much words may be wider than the sum of their letters [1]."""


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


@dataclass(frozen=True)
class _Slab:
    """Pieces of a page that stand at one height, and the box that they take [page units]."""

    svg: str
    left: float
    top: float
    right: float
    bottom: float

    def joined(self, other: _Slab) -> _Slab:
        """Both together."""
        return _Slab(
            self.svg + other.svg,
            min(self.left, other.left),
            min(self.top, other.top),
            max(self.right, other.right),
            max(self.bottom, other.bottom),
        )


def _slabs(inner: str) -> list[_Slab]:
    """Words and straight lines of a page, those that stand at one height together, from the top."""
    slabs: list[_Slab] = []
    for each in sorted(_boxed(ET.fromstring(f"<g>{inner}</g>"), 0.0, 0.0), key=lambda each: each.top):
        if slabs and each.top < slabs[-1].bottom:
            slabs[-1] = slabs[-1].joined(each)
        else:
            slabs.append(each)
    return slabs


def _boxed(group: ET.Element, x: float, y: float) -> Iterator[_Slab]:
    """Each piece of a group that lies at a place, with its box."""
    for each in group:
        if each.tag == "g":
            across, down = place_of(each)
            yield from _boxed(each, x + across, y + down)
            continue
        svg = marks.group(written(each), x, y, "piece")
        if each.tag == "text":
            size = float(each.get("font-size", "0").removesuffix("px"))
            left, base = x + float(each.get("x", "0")), y + float(each.get("y", "0"))
            yield _Slab(svg, left - 4, base - 1.1 * size, left + _wide(each, size), base + 0.4 * size)
        else:
            ends = [tuple(map(float, pair.split(","))) for pair in each.get("d", "").strip("M").split("L")]
            (left, top), (right, bottom) = ends
            yield _Slab(svg, x + left - 4, y + top - 4, x + right + 4, y + bottom + 4)


def _wide(text: ET.Element, size: float) -> float:
    """How much room words take from where they begin."""
    return SLACK * width(text.text or "", size, int(text.get("font-weight", "400"))) + 8


class _Stage:
    """The pieces of which steps are put together.

    A row is drawn with some room above and beneath, as its words may reach into its neighbours' rows.
    """

    def __init__(self, parts: Parts, theme: Theme) -> None:
        self.parts, self.theme = parts, theme
        page, count = parts.sheet.page, len(parts.bars)
        edges = [round(parts.top + parts.pitch * place) for place in range(count + 1)]
        self.edges = [edges[0] - MARGIN, *edges[1:-1], edges[-1] + MARGIN]
        self.first, self.last = self.edges[0], self.edges[-1]
        self.scale, self.wide, self.high = int(page.scale), int(page.width), int(page.height or 0)
        self.axis = self._placed(parts.axis)
        self.asking = self._around(parts.heading + parts.cue, parts.closing)
        self.telling = self._around(parts.told[0] + parts.cue, parts.told[1])
        self.empty = self._empty()
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
        return strip(self._filled(above, 0, self.first)), strip(self._filled(beneath, self.last, self.high))

    def _blank(self, top: int, bottom: int) -> Pixels:
        return np.zeros(((bottom - top) * self.scale, self.wide * self.scale, 4), np.uint8)

    def _filled(self, inner: str, top: int, bottom: int) -> Pixels:
        """A part of the page between two heights, with the words and lines that stand there."""
        out = self._blank(top, bottom)
        for each in _slabs(inner):
            box = [math.floor(each.left), math.floor(each.top), math.ceil(each.right), math.ceil(each.bottom)]
            left, right = max(0, box[0]), min(self.wide, box[2])
            low, high = max(top, box[1]), min(bottom, box[3])
            lines = slice((low - top) * self.scale, (high - top) * self.scale)
            out[lines, left * self.scale : right * self.scale] = self._pixels(
                each.svg, left, low, right, high
            )
        return out

    def _pixels(self, inner: str, left: int, top: int, right: int, bottom: int) -> Pixels:
        """A box of the page."""
        return rasterised(coloured(inner, self.theme), Box(left, top, right, bottom), self.scale)

    def _empty(self) -> Pixels:
        """The page without bars, where they will stand: the axis, of which all lies right of the names."""
        out, left = self._blank(self.first, self.last), round(self.parts.columns[1])
        right = left + AXIS_ROOM
        axis = self._pixels(self.axis, left, self.first, right, self.last)
        out[:, left * self.scale : right * self.scale] = axis
        return out

    def _row(self, place: int) -> tuple[int, Pixels, Pixels]:
        """A row with the axis over it: its first line of pixels below `first`, and how it is while names are hidden and
        with the fan's name.
        """
        top = max(self.edges[place] - MARGIN, self.first)
        bottom = min(self.edges[place + 1] + MARGIN, self.last)
        bar = self.parts.bars[place] + self.parts.names[place]
        start, end = ((each - self.first) * self.scale for each in (top, bottom))
        right = self._right_of(bar)
        hidden, named = self.empty[start:end].copy(), self.empty[start:end].copy()
        for pixels, inner in ((hidden, self.parts.covered[place]), (named, bar)):
            box = self._pixels(self._placed(inner) + self.axis, 0, top, right, bottom)
            pixels[:, : right * self.scale] = box
        return start, hidden, named

    def _right_of(self, bar: str) -> int:
        """Where a row ends: its words stand at the end of its bar."""
        words = [each for each in ET.fromstring(f"<g>{bar}</g>") if each.tag == "text"]
        ends = [
            place_of(each)[0] + _wide(each, float(each.get("font-size", "0").removesuffix("px")))
            for each in words
        ]
        right = math.ceil(self.parts.sheet.page.margin + max(ends, default=self.wide))
        return min(self.wide, max(right, round(self.parts.columns[1]) + AXIS_ROOM))

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
            place = out[where]
            more = mask & (own[:, :, 3] >= place[:, :, 3])  # where words of two rows touch, what covers more
            np.copyto(place, own, where=more[:, :, None])
        return out
