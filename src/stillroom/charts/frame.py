"""The page around a plot: title, subtitle, notes, footer, the accessible name, and the font inside.

The plot is drawn into the room that the words leave, so a page keeps its exact size whatever the chart is.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from stillroom.charts import marks
from stillroom.charts.fonts import REGULAR, STRONG, balanced, face, printable, wrapped
from stillroom.charts.layout import Page
from stillroom.charts.palette import PALETTES, Theme, coloured, role
from stillroom.errors import BadInput

LEADING = 1.3
SMALLER_TITLE = 0.8
# Lines that each note and the footer may take on a page of fixed height, the most generous first.
CLOSING_LINES = ((4, 3), (4, 2), (3, 2), (2, 2), (2, 1), (1, 1))


@dataclass(frozen=True)
class Body:
    """A drawn plot and the height it took."""

    svg: str
    height: float


@dataclass(frozen=True)
class Sheet:
    """A finished page with roles for colours: `inner` is everything inside the root element."""

    page: Page
    height: float
    inner: str
    title: str
    alt: str


Drawer = Callable[[float, float | None], Body]


def compose(
    page: Page,
    drawer: Drawer,
    *,
    title: str,
    subtitle: str,
    footer: str,
    alt: str,
    notes: Sequence[str] = (),
    least: float = 0.0,
) -> Sheet:
    """Set a page: words on top and below, and the plot, drawn by `drawer(width, height or None)`, between.

    On a page of fixed height, notes and footer are cut with an ellipsis where the plot would otherwise get
    less than `least`; the data table has them in full.

    Raises
    ------
    BadInput : even then the plot has no room.
    """
    room = page.width - 2 * page.margin
    heard = title
    title, subtitle, footer = map(printable, (title, subtitle, footer))
    notes = tuple(map(printable, notes))
    heading, top = _heading(page, room, title, subtitle)
    if page.height is None:
        closing, below = _closing(page, room, notes, footer, (0, 0))
        body = drawer(room, None)
        height = top + body.height + below
    else:
        height = page.height
        closing, below = _fitted_closing(page, room, notes, footer, height - top - least)
        body = drawer(room, height - top - below)
    inner = (
        f'<rect id="paper" width="{marks.place(page.width)}" height="{marks.place(height)}" '
        f'fill="{role("paper")}"/>'
        + marks.group(heading, page.margin, 0, "heading")
        + marks.group(body.svg, page.margin, top, "plot")
        + marks.group(closing, page.margin, height - below, "closing")
    )
    return Sheet(page, height, inner, heard, alt or heard)


def _heading(page: Page, room: float, title: str, subtitle: str) -> tuple[str, float]:
    """Title and subtitle; returns them and where the plot may begin."""
    size, most = page.title, 2 if page.height is not None else 0
    titles = balanced(title, size, STRONG, room)
    if most and len(titles) > most:
        size = SMALLER_TITLE * page.title
        titles = balanced(title, size, STRONG, room, most)
    under = balanced(subtitle, page.text, REGULAR, room, most)
    y = 0.85 * page.margin + 0.9 * size
    out = marks.lines(titles, 0, y, size, 1.16 * size, weight=STRONG)
    y += (len(titles) - 1) * 1.16 * size + 0.45 * size + page.text
    out += marks.lines(under, 0, y, page.text, LEADING * page.text, colour="muted")
    return out, y + (len(under) - 1) * LEADING * page.text + 1.1 * page.text


def _fitted_closing(
    page: Page, room: float, notes: Sequence[str], footer: str, free: float
) -> tuple[str, float]:
    """Notes and footer in as many lines as leave the plot its room; the first notes, where not all can stand."""
    fewer = ((notes[:count], CLOSING_LINES[-1]) for count in range(len(notes) - 1, 0, -1))
    for kept, most in (*((notes, each) for each in CLOSING_LINES), *fewer):
        closing, below = _closing(page, room, kept, footer, most)
        if below <= free:
            return closing, below
    raise BadInput(
        f"words on the page {page.name!r}", found="more than it holds", expected="shorter title, fewer notes"
    )


def _closing(
    page: Page, room: float, notes: Sequence[str], footer: str, most: tuple[int, int]
) -> tuple[str, float]:
    """Notes, a hairline and the footer in at most so many lines; returns them and their height."""
    size, leading = page.small, LEADING * page.small
    y = 0.9 * size if notes else 0.4 * size
    out = ""
    for note in notes:
        said = wrapped(note, size, REGULAR, room, most[0])
        y += leading
        out += marks.lines(said, 0, y - 0.3 * size, size, leading)
        y += (len(said) - 1) * leading + 0.25 * size
    y += 0.5 * size
    out += marks.rule(0, y, room, y, thick=max(1.0, page.width / 1200))
    foot = wrapped(footer, size, REGULAR, room, most[1])
    out += marks.lines(foot, 0, y + 1.45 * size, size, leading, colour="muted")
    return out, y + 1.45 * size + (len(foot) - 1) * leading + 0.7 * page.margin


# --- the root element -----------------------------------------------------------------------------


def root(sheet: Sheet, style: str = "", extra: str = "") -> str:
    """The whole SVG: accessible name and description on the root, `style` inside."""
    page, name = sheet.page, sheet.page.name
    size = f'viewBox="0 0 {marks.place(page.width)} {marks.place(sheet.height)}"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="{name}-title {name}-desc" '
        f'width="{marks.place(page.width)}" height="{marks.place(sheet.height)}" {size}{extra}>'
        f'<title id="{name}-title">{marks.escaped(sheet.title)}</title>'
        f'<desc id="{name}-desc">{marks.escaped(sheet.alt)}</desc>'
        f"{f'<style>{style}</style>' if style else ''}{sheet.inner}</svg>"
    )


def letters(svg: str) -> dict[int, str]:
    """The letters that a drawing sets, by weight."""
    found: dict[int, str] = {REGULAR: "", STRONG: ""}
    for opening, words in re.findall(r"<text([^>]*)>([^<]*)</text>", svg):
        strong = f'font-weight="{STRONG}"' in opening
        found[STRONG if strong else REGULAR] += marks.unescaped(words)
    return found


def plain_svg(sheet: Sheet, theme: Theme) -> str:
    """The page in one theme, without its font: for the rasteriser, which has it."""
    return coloured(root(sheet), theme)


def carrying_svg(sheet: Sheet, theme: Theme) -> str:
    """The page in one theme as a file that carries its font."""
    style = "".join(face(weight, words) for weight, words in letters(sheet.inner).items() if words)
    return coloured(root(sheet, style), theme)


def theme_style() -> str:
    """Both palettes as custom properties; the reader's system chooses."""
    light, dark = (
        ";".join(f"--{name}:{colour}" for name, colour in PALETTES[theme].items()) for theme in Theme
    )
    return f":root{{color-scheme:light dark;{light}}}@media (prefers-color-scheme:dark){{:root{{{dark}}}}}"
