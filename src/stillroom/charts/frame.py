"""The page around a plot: title, subtitle, notes, footer, the accessible name, and the font inside.

The plot is drawn into the room that the words leave, so a page keeps its exact size whatever the chart is.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from stillroom.charts import marks
from stillroom.charts.fonts import ELLIPSIS, REGULAR, STRONG, balanced, face, printable, wrapped
from stillroom.charts.layout import Page
from stillroom.charts.palette import PALETTES, Theme, coloured, role
from stillroom.errors import BadInput

LEADING = 1.3
SMALLER_TITLE, TITLE_LINES = 0.8, 2
# Lines that each note and the footer may take on a page of fixed height, the most generous first.
CLOSING_LINES = ((4, 3), (4, 2), (3, 2), (2, 2), (2, 1), (1, 1))
# By how much the words around a plot are set smaller, and in how many lines the subtitle, before anything is cut.
TIGHTER = ((1.0, 2), (0.92, 2), (0.85, 2), (0.85, 3))
SEPARATOR = " · "
_DATE = re.compile(r"\d{4}-\d\d-\d\d")


@dataclass(frozen=True)
class Body:
    """A drawn plot and the height it took."""

    svg: str
    height: float


@dataclass(frozen=True)
class Sheet:
    """A finished page with roles for colours: `inner` is everything inside the root element.

    `top` is where its plot begins, `foot` where the words beneath do, both in page units.
    """

    page: Page
    height: float
    inner: str
    title: str
    alt: str
    top: float = 0.0
    foot: float = 0.0


Drawer = Callable[[float, float | None], Body]


@dataclass(frozen=True)
class _Words:
    """Words above or below a plot, the height they took, and whether nothing of them is cut."""

    svg: str
    height: float
    is_whole: bool


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

    On a page of fixed height words are set smaller where the plot would otherwise get less than `least`; where that
    isn't enough, notes and footer are cut after a whole word, with an ellipsis, but the footer keeps its date; the
    data table has them in full.

    Raises
    ------
    BadInput : even then the plot has no room.
    """
    room = page.width - 2 * page.margin
    heard = title
    title, subtitle, footer = map(printable, (title, subtitle, footer))
    notes = tuple(map(printable, notes))
    if page.height is None:
        heading = _heading(page, room, title, subtitle, 0)
        closing = _closing(page, room, notes, footer, (0, 0))
        body = drawer(room, None)
        height = heading.height + body.height + closing.height
    else:
        height = page.height
        heading, closing = _fitted(page, room, (title, subtitle), notes, footer, height - least)
        body = drawer(room, height - heading.height - closing.height)
    inner = (
        f'<rect id="paper" width="{marks.place(page.width)}" height="{marks.place(height)}" '
        f'fill="{role("paper")}"/>'
        + marks.group(heading.svg, page.margin, 0, "heading")
        + marks.group(body.svg, page.margin, heading.height, "plot")
        + marks.group(closing.svg, page.margin, height - closing.height, "closing")
    )
    return Sheet(page, height, inner, heard, alt or heard, heading.height, height - closing.height)


def other_words(
    sheet: Sheet, title: str, subtitle: str, footer: str, notes: Sequence[str]
) -> tuple[str, str]:
    """Other words for a finished page, in the room of its own: the groups above and beneath its plot.

    What has no room is left out, the notes first, then the footer, then the subtitle.
    """
    page, room = sheet.page, sheet.page.width - 2 * sheet.page.margin
    title, subtitle, footer = map(printable, (title, subtitle, footer))
    tried = [
        (words, share) for words in (subtitle, "") for share in (*(each for each, _ in TIGHTER), 0.7, 0.5)
    ]
    above = [_heading(_smaller(page, share), room, title, words, 2) for words, share in tried]
    heading = next((each for each in above if each.height <= sheet.top and each.is_whole), above[-1])
    below = [
        _closing(_smaller(page, share), room, kept, said, lines)
        for said in (footer, "")
        for kept in (tuple(map(printable, notes)), ())
        for share, _ in TIGHTER[:3]
        for lines in CLOSING_LINES
    ]
    space = sheet.height - sheet.foot
    closing = next((each for each in below if each.height <= space + 0.01 and each.is_whole), below[-1])
    return (
        marks.group(heading.svg, page.margin, 0, "heading"),
        marks.group(closing.svg, page.margin, sheet.height - closing.height, "closing"),
    )


def _fitted(
    page: Page, room: float, said: tuple[str, str], notes: Sequence[str], footer: str, free: float
) -> tuple[_Words, _Words]:
    """Title and subtitle, and notes and footer, within `free` of a page's height: whole, in letters as large as that
    allows; cut where the smallest don't do.
    """
    heading = _heading(page, room, *said, TIGHTER[0][1])
    for share, most in TIGHTER:
        smaller = _smaller(page, share)
        heading = _heading(smaller, room, *said, most)
        if not heading.is_whole:
            continue
        for lines in CLOSING_LINES:
            closing = _closing(smaller, room, notes, footer, lines)
            if closing.is_whole and closing.height <= free - heading.height:
                return heading, closing
    return heading, _cut_closing(smaller, room, notes, footer, free - heading.height)


def _smaller(page: Page, share: float) -> Page:
    """The page with smaller letters around its plot."""
    return replace(page, title=share * page.title, text=share * page.text, small=share * page.small)


def _heading(page: Page, room: float, title: str, subtitle: str, most: int) -> _Words:
    """Title and subtitle down to where the plot may begin, the subtitle in at most so many lines; 0: any number."""
    size = page.title
    titles = balanced(title, size, STRONG, room)
    if most and len(titles) > TITLE_LINES:
        size = SMALLER_TITLE * page.title
        titles = balanced(title, size, STRONG, room, TITLE_LINES)
    under = balanced(subtitle, page.text, REGULAR, room, most)
    y = 0.85 * page.margin + 0.9 * size
    out = marks.lines(titles, 0, y, size, 1.16 * size, weight=STRONG)
    y += (len(titles) - 1) * 1.16 * size + 0.45 * size + page.text
    out += marks.lines(under, 0, y, page.text, LEADING * page.text, colour="muted")
    top = y + (len(under) - 1) * LEADING * page.text + 1.1 * page.text
    return _Words(out, top, not any(_is_cut(each) for each in (titles, under)))


def _is_cut(said: Sequence[str]) -> bool:
    return said[-1].endswith(ELLIPSIS)


def _cut_closing(page: Page, room: float, notes: Sequence[str], footer: str, free: float) -> _Words:
    """Notes and footer in as many lines as leave the plot its room; the first notes, where not all can stand."""
    fewer = (
        (notes[:count], lines)
        for count in range(len(notes) - 1, 0, -1)
        for lines in (CLOSING_LINES if count == 1 else CLOSING_LINES[-1:])
    )
    for kept, most in (*((notes, each) for each in CLOSING_LINES), *fewer):
        closing = _closing(page, room, kept, footer, most)
        if closing.height <= free:
            return closing
    raise BadInput(
        f"words on the page {page.name!r}", found="more than it holds", expected="shorter title, fewer notes"
    )


def _closing(page: Page, room: float, notes: Sequence[str], footer: str, most: tuple[int, int]) -> _Words:
    """Notes, a hairline and the footer in at most so many lines each; 0: any number."""
    size, leading = page.small, LEADING * page.small
    y = 0.9 * size if notes else 0.4 * size
    out, is_cut = "", False
    for note in notes:
        said = wrapped(note, size, REGULAR, room, most[0], whole=True)
        is_cut |= _is_cut(said)
        y += leading
        out += marks.lines(said, 0, y - 0.3 * size, size, leading)
        y += (len(said) - 1) * leading + 0.25 * size
    y += 0.5 * size
    out += marks.rule(0, y, room, y, thick=max(1.0, page.width / 1200))
    foot = wrapped(footer, size, REGULAR, room, most[1], whole=True)
    if _is_cut(foot):
        foot, is_cut = _dated(footer, size, room, most[1]), True
    out += marks.lines(foot, 0, y + 1.45 * size, size, leading, colour="muted")
    height = y + 1.45 * size + (len(foot) - 1) * leading + 0.7 * page.margin
    return _Words(out, height, not is_cut)


def _dated(footer: str, size: float, room: float, most: int) -> list[str]:
    """A footer that is too long: its date last, and before it as many whole words of the rest as have room."""
    parts = footer.split(SEPARATOR)
    date = next((each for each in parts if _DATE.fullmatch(each)), "")
    if date:
        words = SEPARATOR.join(each for each in parts if each != date).split(" ")
        for count in range(len(words) - 1, 0, -1):
            kept = " ".join(words[:count]).rstrip(" ,;·(")
            said = wrapped(f"{kept}{ELLIPSIS}{SEPARATOR}{date}", size, REGULAR, room, most, whole=True)
            if not _is_cut(said):
                return said
    return wrapped(footer, size, REGULAR, room, most, whole=True)


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
