"""One chart, all its files: PNG, SVG, page, table and alt text, written whole or not at all."""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Sequence
from functools import partial
from pathlib import Path

from stillroom.charts import frame
from stillroom.charts.bars import draw_bars, least_height, notes_of
from stillroom.charts.collapse import draw_collapse
from stillroom.charts.curves import draw_curves
from stillroom.charts.fonts import clean, register
from stillroom.charts.frame import Body, Sheet
from stillroom.charts.layout import Layout, Page
from stillroom.charts.page import page as whole_page
from stillroom.charts.palette import Theme
from stillroom.charts.series import Chart, CurveChart, RankedBars
from stillroom.charts.table import table_of
from stillroom.errors import BadInput

ALL_THEMES = (Theme.LIGHT, Theme.DARK)
USUAL_LAYOUTS = (Layout.WIDE,)
LEAST_PLOT = 0.4


def set_page(chart: Chart, layout: Layout) -> Sheet:
    """Set a chart on one page; colours are still roles.

    Raises
    ------
    BadInput : the page can't hold the chart.
    """
    page = layout.page
    if isinstance(chart, RankedBars):
        notes, least = notes_of(chart), least_height(chart, page)
    else:
        notes, least = chart.notes, LEAST_PLOT * (page.height or 0.0)
    return frame.compose(
        page,
        partial(_body, chart, page),
        title=chart.title,
        subtitle=chart.subtitle,
        footer=chart.footer,
        alt=chart.alt,
        notes=notes,
        least=least,
    )


def _body(chart: Chart, on: Page, room: float, free: float | None) -> Body:
    if isinstance(chart, RankedBars):
        return draw_bars(chart, on, room, free)
    if isinstance(chart, CurveChart):
        return draw_curves(chart, on, room, free)
    return draw_collapse(chart, on, room, free)


def svg(sheet: Sheet, theme: Theme) -> str:
    """A page as an SVG file that carries its font."""
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + frame.carrying_svg(sheet, theme) + "\n"


def png(sheet: Sheet, theme: Theme) -> bytes:
    """A page as a PNG of exactly its size times its scale."""
    import vl_convert

    register()
    return bytes(vl_convert.svg_to_png(frame.plain_svg(sheet, theme), scale=sheet.page.scale))


def html(chart: Chart) -> str:
    """The self-contained page of a chart."""
    wide, narrow = set_page(chart, Layout.ARTICLE), set_page(chart, Layout.PHONE)
    return whole_page(chart.title, chart.alt or chart.title, wide, narrow, table_of(chart))


def draw(
    chart: Chart,
    folder: Path,
    name: str,
    *,
    themes: Sequence[Theme] = ALL_THEMES,
    layouts: Sequence[Layout] = USUAL_LAYOUTS,
) -> tuple[Path, ...]:
    """Write a chart's files into a folder.

    Parameters
    ----------
    chart : the series and words.
    folder : made if it isn't there.
    name : the stem of all file names.
    themes, layouts : which PNG and SVG files.

    Returns
    -------
    The files: NAME-LAYOUT-THEME.png and .svg of each layout and theme, NAME.html (both themes, both widths),
    NAME.csv, NAME.txt (the alt text). Same input, same bytes. Each is written beside its place and renamed.

    Raises
    ------
    BadInput : the name isn't a plain file name, or a page can't hold the chart.
    """
    if not re.fullmatch(r"[\w\-][\w\-. ]{0,120}", name):
        raise BadInput(
            "name of a chart", found=repr(name), expected="letters, figures, dots, dashes, no slash"
        )
    made: list[tuple[str, bytes]] = []
    for layout in layouts:
        sheet = set_page(chart, layout)
        for theme in themes:
            stem = f"{name}-{layout.page.name}-{theme.value}"
            made.append((f"{stem}.png", png(sheet, theme)))
            made.append((f"{stem}.svg", svg(sheet, theme).encode()))
    made.append((f"{name}.html", html(chart).encode()))
    made.append((f"{name}.csv", table_of(chart).as_csv().encode()))
    made.append((f"{name}.txt", (clean(chart.alt or chart.title) + "\n").encode()))
    folder.mkdir(parents=True, exist_ok=True)
    return tuple(_written(folder / file, content) for file, content in made)


def _written(path: Path, content: bytes) -> Path:
    """Write a file whole: beside its place, then renamed."""
    handle, part = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as opened:
            opened.write(content)
        Path(part).chmod(0o644)
        Path(part).replace(path)
    except BaseException:
        Path(part).unlink(missing_ok=True)
        raise
    return path
