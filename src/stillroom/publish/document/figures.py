"""Charts of the house as pictures of a document."""

from __future__ import annotations

from stillroom.charts import frame
from stillroom.charts.draw import set_page
from stillroom.charts.further_series import Chart
from stillroom.charts.layout import Layout
from stillroom.publish.document.blocks import Figure


def figure_of(chart: Chart, caption: str = "") -> Figure:
    """A chart as a picture: as wide as an article, and for a phone's screen; in the colours of the reader's theme.

    Raises
    ------
    BadInput : a page can't hold the chart.
    """
    wide, narrow = set_page(chart, Layout.ARTICLE), set_page(chart, Layout.PHONE)
    return Figure(frame.root(wide), wide.alt, caption, frame.root(narrow))
