"""Events of a log above a plot of time: a line down each, its words on lanes where nothing crosses."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from stillroom.charts import marks
from stillroom.charts.fonts import REGULAR, STRONG, Weight, width, wrapped
from stillroom.charts.further_series import CheckEvent
from stillroom.charts.layout import Page
from stillroom.charts.plane import Plane
from stillroom.errors import BadInput

LANES = 4
"""Lines of events' words above the plot; events beyond them keep their line, and stand in the table."""

EVENT_SHARES = (0.9, 0.6, 0.45, 0.34)
"""What share of the room an event's words may take: as much as there is."""

BEGINNINGS = 40
WORDLESS = 20.0
"""How many ways to place the words are kept, and the price of an event whose line stands without words."""


def day_of(time: str) -> float:
    """A date, with or without a time, in days.

    Raises
    ------
    BadInput : it isn't an ISO date.
    """
    try:
        told = datetime.datetime.fromisoformat(time.strip().replace("Z", ""))
    except ValueError:
        raise BadInput("time on a chart", found=repr(time), expected="an ISO date") from None
    return told.toordinal() + (told.hour * 60 + told.minute) / 1440.0


@dataclass(frozen=True)
class Sign:
    """An event on the page: where its line is, its words from `left` to `right`, and on which lane; None for none."""

    x: float
    words: str
    left: float
    right: float
    lane: int | None
    is_change: bool

    def crosses(self, other: Sign) -> bool:
        """Whether the line of one runs through the words of the other, or words lie over words."""
        if self.lane is None or other.lane is None:
            return False
        if self.lane == other.lane:
            return self.left < other.right and other.left < self.right
        upper, lower = (self, other) if self.lane < other.lane else (other, self)
        return lower.left < upper.x < lower.right


def lanes_of(events: Sequence[CheckEvent], page: Page, plane: Plane, room: float) -> list[Sign]:
    """Each event's words right or left of its line, whole or cut, on lanes where nothing crosses.

    What costs least of all events together is looked for, event by event, with the best few beginnings kept.
    """
    begun: list[tuple[float, list[Sign]]] = [(0.0, [])]
    for event in events:
        tried = _tried(event, page, plane, room)
        grown = [
            (cost + price, [*signs, sign])
            for cost, signs in begun
            for price, sign in tried
            if not any(sign.crosses(other) for other in signs)
        ]
        begun = sorted(grown, key=lambda each: each[0])[:BEGINNINGS]
    return begun[0][1]


def _tried(event: CheckEvent, page: Page, plane: Plane, room: float) -> list[tuple[float, Sign]]:
    """The places that an event's words may take, each with its price: cut words, high lanes and the left cost."""
    size, gap, weight = page.small, 0.3 * page.small, _weight(event.is_change)
    x = plane.across(day_of(event.time))
    tried = [(WORDLESS, Sign(x, "", x, x, None, event.is_change))]
    for share in EVENT_SHARES:
        said = wrapped(event.words, size, weight, share * room, 1)[0]
        wide = width(said, size, weight)
        for left, dislike in ((x + gap, 0.0), (x - gap - wide, 0.5)):
            if left >= 0.0 and left + wide <= room:
                price = 0.2 * (len(event.words) - len(said)) + dislike
                tried += [
                    (price + 0.3 * lane, Sign(x, said, left, left + wide + size, lane, event.is_change))
                    for lane in range(LANES)
                ]
    return tried


def _weight(is_change: bool) -> Weight:
    return STRONG if is_change else REGULAR


def draw_events(signs: Sequence[Sign], lanes: int, page: Page, plane: Plane) -> str:
    """Each event a line down the plot with its words above it; one without a lane keeps its line."""
    size, out = page.small, ""
    for sign in signs:
        top = 0.0 if sign.lane is None else -(1.35 * (lanes - sign.lane) + 0.1) * size
        colour, thick = ("ink", 0.09) if sign.is_change else ("axis", 0.05)
        out += marks.rule(sign.x, top, sign.x, plane.height, colour=colour, thick=thick * size)
        if sign.lane is not None:
            y, colour = top + 0.85 * size, "ink" if sign.is_change else "muted"
            out += marks.text(sign.words, sign.left, y, size, weight=_weight(sign.is_change), colour=colour)
    return marks.group(out, 0, 0, "events")
