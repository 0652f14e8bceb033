"""A plot on its page: room for the numbers at its left and the names at its right, words above and beneath."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from stillroom.charts import marks
from stillroom.charts.frame import Body
from stillroom.charts.layout import Page
from stillroom.charts.plane import Axis, Plane, tick_room, under

if TYPE_CHECKING:
    from stillroom.charts.marks import AltairChart

FOOT = 3.3
"""Height of the numbers and words beneath a plot, in letter sizes."""


@dataclass(frozen=True)
class Plot:
    """Where a plot is.

    Parameters
    ----------
    plane : its axes and its size. left, right, top : room beside and above it. height : with all its words.
    """

    page: Page
    plane: Plane
    left: float
    right: float
    top: float
    height: float

    def under_head(self, top: float) -> Plot:
        """The same with so much room above it."""
        plane = replace(self.plane, height=self.height - top - FOOT * self.page.small)
        return replace(self, top=top, plane=plane)

    def body(
        self,
        name: str,
        definition: Callable[[Page, Plane, marks.Rows], AltairChart],
        *,
        y_words: str,
        x_words: str = "",
        beneath: str = "",
        above: str = "",
    ) -> Body:
        """The plot drawn, with the words at its axes; `beneath` it and `above` it lie further pieces."""
        rows, size = marks.Rows(), self.page.small
        drawn = marks.drawn(
            definition(self.page, self.plane, rows),
            rows,
            self.plane.width,
            self.plane.height,
            (self.page.margin + self.left, self.top, self.right, self.top),
        )
        out = beneath + drawn
        out += marks.text(y_words, -self.left, 1.05 * size - self.top, size, colour="muted")
        out += under(self.plane, self.page, x_words) if x_words else ""
        return Body(marks.group(out + above, self.left, self.top, name), self.height)


def plot_on(page: Page, x: Axis, y: Axis, room: float, height: float, *, right: float, top: float) -> Plot:
    """A plot of so much height in so much room, with `right` for what stands at its right."""
    left = tick_room(y, page)
    return Plot(page, Plane(x, y, room - left - right, 1.0), left, right, 0.0, height).under_head(top)
