"""One chart, all its files: PNG, SVG, page, table and alt text, written whole or not at all."""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from stillroom.charts import frame
from stillroom.charts.bar_words import bars_notes
from stillroom.charts.bars import draw_bars, least_height
from stillroom.charts.claims import claims_least, draw_claims
from stillroom.charts.collapse import draw_collapse
from stillroom.charts.control import draw_control
from stillroom.charts.curves import draw_curves
from stillroom.charts.fonts import BOX, clean, printable
from stillroom.charts.frame import Body, Sheet
from stillroom.charts.further_series import (
    Chart,
    ClaimChart,
    ControlPicture,
    ObstacleChart,
    PanelChart,
)
from stillroom.charts.heat.agreement import draw_agreement
from stillroom.charts.heat.series import AgreementChart, SettlingChart
from stillroom.charts.heat.settling import draw_settling
from stillroom.charts.layout import Layout, Page
from stillroom.charts.obstacles import draw_obstacles
from stillroom.charts.page import page as whole_page
from stillroom.charts.palette import Theme
from stillroom.charts.panels import draw_panels, panels_least
from stillroom.charts.raster import drawn_png, repacked
from stillroom.charts.response import ResponseChart, draw_response
from stillroom.charts.series import CollapseChart, CurveChart, RankedBars
from stillroom.charts.sound.levels import draw_levels
from stillroom.charts.sound.ramp import draw_ramp
from stillroom.charts.sound.series import LevelChart, RampChart, SpectrumChart, TradeChart
from stillroom.charts.sound.spectrum import draw_spectrum
from stillroom.charts.sound.tradeoff import draw_tradeoff
from stillroom.charts.table import table_of
from stillroom.errors import BadInput

ALL_THEMES = (Theme.LIGHT, Theme.DARK)
USUAL_LAYOUTS = (Layout.WIDE,)
LEAST_PLOT = 0.4
UNPRINTABLE = f"{BOX} stands for signs that these letters lack; the data table has the names in full."


def _plot_height(_chart: Any, page: Page) -> float:
    return LEAST_PLOT * (page.height or 0.0)


def _own_notes(chart: Any, _page: Page) -> tuple[str, ...]:
    return tuple(chart.notes)


@dataclass(frozen=True)
class Kind:
    """How one kind of chart is set: its plot, the least height of it, its notes, the names it shows."""

    draw: Callable[[Any, Page, float, float | None], Body]
    names: Callable[[Any], list[str]]
    least: Callable[[Any, Page], float] = _plot_height
    notes: Callable[[Any, Page], tuple[str, ...]] = _own_notes


_KINDS: dict[type[Any], Kind] = {
    RankedBars: Kind(draw_bars, lambda chart: [each.label for each in chart.bars], least_height, bars_notes),
    CurveChart: Kind(draw_curves, lambda chart: [each.label for each in (*chart.curves, *chart.loads)]),
    CollapseChart: Kind(draw_collapse, lambda chart: [each.label for each in chart.sweeps]),
    ObstacleChart: Kind(draw_obstacles, lambda chart: [each.label for each in chart.curves]),
    PanelChart: Kind(
        draw_panels, lambda chart: [bar.label for each in chart.panels for bar in each.bars], panels_least
    ),
    ClaimChart: Kind(draw_claims, lambda chart: [each.label for each in chart.rows], claims_least),
    ControlPicture: Kind(draw_control, lambda _: []),
    LevelChart: Kind(draw_levels, lambda chart: [each.label for each in chart.lines]),
    SpectrumChart: Kind(draw_spectrum, lambda chart: [chart.label]),
    RampChart: Kind(draw_ramp, lambda _: []),
    TradeChart: Kind(draw_tradeoff, lambda chart: [each.label for each in chart.lines]),
    SettlingChart: Kind(draw_settling, lambda chart: [chart.label]),
    AgreementChart: Kind(draw_agreement, lambda chart: [each.label for each in chart.points]),
    ResponseChart: Kind(draw_response, lambda chart: [chart.label]),
}


def set_page(chart: Chart, layout: Layout) -> Sheet:
    """Set a chart on the page of a layout; colours are still roles.

    Raises
    ------
    BadInput : the page can't hold the chart.
    """
    return set_on(chart, layout.page)


def set_on(chart: Chart, page: Page) -> Sheet:
    """The same on any page, such as a small one of a document.

    Raises
    ------
    BadInput : the page can't hold the chart.
    """
    kind = _KINDS[type(chart)]
    notes = kind.notes(chart, page)
    unprintable = [each for each in kind.names(chart) if printable(each) != clean(each)]
    return frame.compose(
        page,
        partial(kind.draw, chart, page),
        title=chart.title,
        subtitle=chart.subtitle,
        footer=chart.footer,
        alt=chart.alt,
        notes=(*notes, UNPRINTABLE) if unprintable else notes,
        least=kind.least(chart, page),
    )


@contextmanager
def unchecked() -> Iterator[None]:
    """Within it, definitions aren't held against the schema of charts as they are made: a sixth of the time."""
    from altair.utils import schemapi

    with schemapi.debug_mode(False):
        yield


def svg(sheet: Sheet, theme: Theme) -> str:
    """A page as an SVG file that carries its font."""
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + frame.carrying_svg(sheet, theme) + "\n"


def png(sheet: Sheet, theme: Theme) -> bytes:
    """A page as a PNG of exactly its size times its scale."""
    return repacked(drawn_png(frame.plain_svg(sheet, theme), sheet.page.scale))


def html(chart: Chart, *, whole: Chart | None = None, article: Sheet | None = None) -> str:
    """The self-contained page of a chart.

    Parameters
    ----------
    whole : what its words and its table tell, where the drawing leaves some of it out.
    article : the chart set on the article's page, where it is there already.
    """
    wide, narrow = article or set_page(chart, Layout.ARTICLE), set_page(chart, Layout.PHONE)
    told = whole or chart
    return whole_page(chart.title, told.alt or told.title, wide, narrow, table_of(told))


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
