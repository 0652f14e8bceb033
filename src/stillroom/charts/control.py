"""The reference fan's checks against time: values, centre, limits, weighted mean, signals, events and eras."""

from __future__ import annotations

from stillroom.charts.frame import Body
from stillroom.charts.further_series import ControlPicture
from stillroom.charts.layout import Page


def draw_control(chart: ControlPicture, page: Page, room: float, free: float | None) -> Body:
    """Not yet."""
    raise NotImplementedError
