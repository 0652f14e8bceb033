"""The pages that a chart is set on: sizes, margins and letter sizes of each."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


@dataclass(frozen=True)
class Page:
    """One page, in page units; `scale` turns units into pixels.

    Parameters
    ----------
    name : as it appears in a file's name.
    width, height : the page; height None lets the content decide.
    scale : pixels per unit in the PNG.
    margin : blank border.
    title, text, label, small : letter sizes: title, subtitle, names and values, everything else.
    pitch : the greatest height of one row of a ranking.
    least_pitch : the smallest at which its words still stand clear of each other.
    stacked : names above their bars (narrow pages) instead of beside them.
    aspect : height of a plot as a share of its width where the page has no height of its own.
    bars : the most bars that the page holds.
    """

    name: str
    width: float
    height: float | None
    scale: float
    margin: float
    title: float
    text: float
    label: float
    small: float
    pitch: float
    least_pitch: float
    stacked: bool
    aspect: float
    bars: int


class Layout(Enum):
    """Video frame (3840 × 2160), article (1600 wide), square (2160 × 2160), phone column of a page."""

    WIDE = Page("wide", 1920, 1080, 2, 96, 60, 33, 33, 25, 88, 51, False, 0.5, 10)
    ARTICLE = Page("article", 800, None, 2, 32, 27, 16, 15.5, 13, 36, 32, False, 0.62, 30)
    SQUARE = Page("square", 720, 720, 3, 36, 32, 19.5, 19, 17, 62, 36, True, 0.8, 10)
    PHONE = Page("phone", 390, None, 3, 18, 22, 14.5, 14.5, 12.5, 46, 34, True, 1.0, 30)

    @property
    def page(self) -> Page:
        """The page's measures."""
        return self.value
