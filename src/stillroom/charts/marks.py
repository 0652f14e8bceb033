"""Small pieces of SVG, escaped, and the way from an Altair chart to a piece of SVG."""

from __future__ import annotations

import html
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from stillroom.charts.fonts import FAMILY, REGULAR, clean, printable, register
from stillroom.charts.palette import role

if TYPE_CHECKING:
    import altair as alt

    AltairChart = alt.Chart | alt.LayerChart | alt.FacetChart


def escaped(words: str) -> str:
    """Words as SVG and HTML may carry them."""
    return html.escape(clean(words), quote=True)


def unescaped(words: str) -> str:
    """Words as they were before `escaped`."""
    return html.unescape(words)


NAMELESS = "unnamed"


def named(words: str) -> str:
    """A name as it can be set, with a box for what the letters lack; "unnamed" where there is none."""
    return printable(words) or NAMELESS


def place(value: float) -> str:
    """A coordinate with two decimals at most."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def text(
    words: str,
    x: float,
    y: float,
    size: float,
    *,
    weight: int = REGULAR,
    colour: str = "ink",
    anchor: str = "start",
) -> str:
    """One line of words with its base line at y."""
    return (
        f'<text x="{place(x)}" y="{place(y)}" font-family="{FAMILY}, sans-serif" font-size="{place(size)}px" '
        f'font-weight="{weight}" fill="{role(colour)}" text-anchor="{anchor}">{escaped(words)}</text>'
    )


def lines(
    words: Sequence[str],
    x: float,
    y: float,
    size: float,
    leading: float,
    *,
    weight: int = REGULAR,
    colour: str = "ink",
) -> str:
    """Lines of words under each other, the first with its base line at y."""
    return "".join(
        text(each, x, y + index * leading, size, weight=weight, colour=colour)
        for index, each in enumerate(words)
    )


def rule(x1: float, y1: float, x2: float, y2: float, *, colour: str = "hairline", thick: float = 1.0) -> str:
    """A straight line."""
    return (
        f'<path d="M{place(x1)},{place(y1)}L{place(x2)},{place(y2)}" fill="none" '
        f'stroke="{role(colour)}" stroke-width="{place(thick)}"/>'
    )


SYMBOLS = {
    "circle": "M-1,0a1,1 0 1,0 2,0a1,1 0 1,0 -2,0Z",
    "square": "M-.9,-.9h1.8v1.8h-1.8Z",
    "triangle-up": "M0,-1.1L1.1,.8H-1.1Z",
    "diamond": "M0,-1.25L.85,0L0,1.25L-.85,0Z",
    "triangle-down": "M0,1.1L1.1,-.8H-1.1Z",
    "cross": "M-1,-.35H-.35V-1H.35V-.35H1V.35H.35V1H-.35V.35H-1Z",
}


def symbol(shape: str, x: float, y: float, radius: float, colour: str) -> str:
    """One mark of a key."""
    return (
        f'<path d="{SYMBOLS[shape]}" fill="{role(colour)}" '
        f'transform="translate({place(x)},{place(y)}) scale({place(radius)})"/>'
    )


def group(inner: str, x: float, y: float, name: str) -> str:
    """Pieces moved together, under a name."""
    return f'<g id="{name}" transform="translate({place(x)},{place(y)})">{inner}</g>'


Row = dict[str, "float | str | bool | None"]


class Rows:
    """The data of one drawing by name, kept apart from its definition (Altair copies and checks rows)."""

    def __init__(self) -> None:
        self.sets: dict[str, list[Row]] = {}

    def chart(self, rows: list[Row]) -> alt.Chart:
        """A chart on these rows."""
        import altair as alt

        name = f"rows-{len(self.sets)}"
        self.sets[name] = rows
        return alt.Chart(alt.NamedData(name=name))


def drawn(
    chart: AltairChart, rows: Rows, width: float, height: float, padding: tuple[float, float, float, float]
) -> str:
    """The inside of the SVG that a chart becomes, with its plot's corner at the origin.

    Parameters
    ----------
    chart : an Altair chart without size or configuration.
    rows : its data.
    width, height : the plot, in page units.
    padding : room for words left, top, right and below (nothing is clipped to it).
    """
    import vl_convert

    register()
    left, top, right, below = padding
    spec = chart.to_dict(validate=False) | {
        "width": width,
        "height": height,
        "autosize": "none",
        "padding": {"left": left, "top": top, "right": right, "bottom": below},
        "config": {
            "font": f"{FAMILY}, sans-serif",
            "background": "transparent",
            "view": {"continuousWidth": width, "continuousHeight": height, "stroke": None},
        },
    }
    made = vl_convert.vegalite_to_svg(spec | {"datasets": rows.sets})
    inner = re.sub(r"^<svg[^>]*>(<rect[^>]*fill=.transparent./>)?|</svg>\s*$", "", made.strip())
    return f'<g transform="translate({place(-left)},{place(-top)})">{inner}</g>'
