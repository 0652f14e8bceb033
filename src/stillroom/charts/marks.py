"""Small pieces of SVG, escaped, and the way from an Altair chart to a piece of SVG."""

from __future__ import annotations

import html
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from stillroom.charts.fonts import FAMILY, REGULAR, clean, register
from stillroom.charts.palette import role

if TYPE_CHECKING:
    import altair as alt

    AltairChart = alt.Chart | alt.LayerChart


def escaped(words: str) -> str:
    """Words as SVG and HTML may carry them."""
    return html.escape(clean(words), quote=True)


def unescaped(words: str) -> str:
    """Words as they were before `escaped`."""
    return html.unescape(words)


def place(value: float) -> str:
    """A coordinate with two decimals at most."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def text(
    words: str, x: float, y: float, size: float, *, weight: int = REGULAR, colour: str = "ink", anchor: str = "start"
) -> str:
    """One line of words with its base line at y."""
    return (
        f'<text x="{place(x)}" y="{place(y)}" font-family="{FAMILY}, sans-serif" font-size="{place(size)}px" '
        f'font-weight="{weight}" fill="{role(colour)}" text-anchor="{anchor}">{escaped(words)}</text>'
    )


def lines(
    words: Sequence[str], x: float, y: float, size: float, leading: float, *, weight: int = REGULAR, colour: str = "ink"
) -> str:
    """Lines of words under each other, the first with its base line at y."""
    return "".join(
        text(each, x, y + index * leading, size, weight=weight, colour=colour) for index, each in enumerate(words)
    )


def rule(x1: float, y1: float, x2: float, y2: float, *, colour: str = "hairline", thick: float = 1.0) -> str:
    """A straight line."""
    return (
        f'<path d="M{place(x1)},{place(y1)}L{place(x2)},{place(y2)}" fill="none" '
        f'stroke="{role(colour)}" stroke-width="{place(thick)}"/>'
    )


def group(inner: str, x: float, y: float, name: str) -> str:
    """Pieces moved together, under a name."""
    return f'<g id="{name}" transform="translate({place(x)},{place(y)})">{inner}</g>'


def drawn(chart: AltairChart, width: float, height: float, padding: tuple[float, float, float, float]) -> str:
    """The inside of the SVG that a chart becomes, with its plot's corner at the origin.

    Parameters
    ----------
    chart : an Altair chart without size or configuration.
    width, height : the plot, in page units.
    padding : room for words left, top, right and below (nothing is clipped to it).
    """
    import vl_convert

    register()
    left, top, right, below = padding
    spec = (
        chart.properties(
            width=width,
            height=height,
            autosize="none",
            padding={"left": left, "top": top, "right": right, "bottom": below},
        )
        .configure(font=f"{FAMILY}, sans-serif", background="transparent")
        .configure_view(stroke=None)
        .to_dict(validate=False)
    )
    made = vl_convert.vegalite_to_svg(spec)
    inner = re.sub(r"^<svg[^>]*>(<rect[^>]*fill=.transparent./>)?|</svg>\s*$", "", made.strip())
    return f'<g transform="translate({place(-left)},{place(-top)})">{inner}</g>'
