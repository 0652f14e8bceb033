"""Pictures on the cards of fans, kept by what they were drawn from: with one fan changed only its own are drawn."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from stillroom import wording
from stillroom.charts import frame
from stillroom.charts.draw import set_on, unchecked
from stillroom.charts.further_series import Chart
from stillroom.charts.layout import Page
from stillroom.publish.document import Figure
from stillroom.publish.pack.kept import keep, kept, key_of, path_of

SMALL = Page("card", 360, 300, 3, 6, 16, 12.5, 13, 11.5, 36, 30, True, 0.7, 10)
"""The page of a picture of which two stand side by side on a sheet."""

SVG = "card.svg"


def small_figure(lab: Path, chart: Chart) -> Figure:
    """A chart as a small picture; its conditions and notes stand beneath it.

    Parameters
    ----------
    lab : in whose cache the drawing is kept.

    Raises
    ------
    BadInput : the page can't hold the chart.
    """
    bare = replace(chart, subtitle="", footer="", notes=())
    caption = " ".join((wording.stopped(chart.subtitle), *chart.notes))
    return Figure(_drawn(lab, bare), f"{chart.title}. {chart.alt or chart.title}", caption)


def _drawn(lab: Path, chart: Chart) -> str:
    place = path_of(lab, key_of("card", SMALL, chart))
    had = kept(place)
    if had is None:
        with unchecked():
            had = {SVG: frame.root(set_on(chart, SMALL)).encode()}
        keep(place, had)
    return had[SVG].decode()
