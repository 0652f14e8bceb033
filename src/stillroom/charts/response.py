"""Speed against drive both ways, with the band of a specification, start and stop."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from stillroom.charts.checked import finite, interval, same_length
from stillroom.charts.frame import Body
from stillroom.charts.layout import Page
from stillroom.errors import BadInput


class DriveSign(StrEnum):
    """What a mark on the drive's axis tells: the shape of it, never its colour alone."""

    START = "triangle-up"
    STOP = "triangle-down"
    LOWEST = "diamond"


@dataclass(frozen=True)
class ResponseLine:
    """Speed against drive, one way: `label` says which ("rising", "falling"); `is_back` draws it as the way back."""

    label: str
    drive: tuple[float, ...]
    speed: tuple[float, ...]
    is_back: bool = False

    def __post_init__(self) -> None:
        thing = f"response {self.label!r}"
        same_length(thing, drive=self.drive, speed=self.speed)
        finite(thing, (*self.drive, *self.speed))
        if len(self.drive) < 2:
            raise BadInput(thing, found=f"{len(self.drive)} points", expected="at least two")


@dataclass(frozen=True)
class SpecificationBand:
    """The speed that a specification expects: its line with the ends of its tolerance, and its words."""

    words: str
    drive: tuple[float, ...]
    speed: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]

    def __post_init__(self) -> None:
        same_length("specification", drive=self.drive, speed=self.speed, low=self.low, high=self.high)
        finite("specification", (*self.drive, *self.speed, *self.low, *self.high))


@dataclass(frozen=True)
class DriveMark:
    """Where a fan starts or stops, or runs lowest: the drive with its interval, and its words.

    Parameters
    ----------
    speed : at which it stands. low, high : 95 % interval of the drive; both None where there is none.
    """

    drive: float
    speed: float
    words: str
    sign: DriveSign
    low: float | None = None
    high: float | None = None

    def __post_init__(self) -> None:
        finite(f"mark {self.words!r}", (self.drive, self.speed))
        interval(f"mark {self.words!r}", self.low, self.high)


@dataclass(frozen=True)
class ResponseChart:
    """Speed against drive of one fan.

    Parameters
    ----------
    open_wire : the speed with the control wire open, and its words; None where it wasn't measured.
    """

    title: str
    subtitle: str
    footer: str
    x_label: str
    x_unit: str
    y_label: str
    y_unit: str
    label: str
    lines: tuple[ResponseLine, ...]
    specification: SpecificationBand | None = None
    marks: tuple[DriveMark, ...] = ()
    open_wire: tuple[float, str] | None = None
    notes: tuple[str, ...] = ()
    alt: str = ""

    def __post_init__(self) -> None:
        if not self.lines:
            raise BadInput(f"response of {self.label!r}", found="no line", expected="one or two")
        if self.open_wire is not None:
            finite("speed with the wire open", (self.open_wire[0],))


def draw_response(chart: ResponseChart, page: Page, room: float, free: float | None) -> Body:
    """Draw the response into `room` × `free`, or to the page's usual height."""
    raise NotImplementedError
