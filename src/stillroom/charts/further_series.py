"""What the charts of obstacles, panels, claims and checks are given: plain numbers in the shown unit, and words."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from stillroom.charts.checked import finite, interval, same_length
from stillroom.charts.heat.series import AgreementChart, SettlingChart
from stillroom.charts.response import ResponseChart
from stillroom.charts.series import CollapseChart, CurveChart, RankedBars
from stillroom.charts.sound.series import LevelChart, RampChart, SpectrumChart, TradeChart
from stillroom.errors import BadInput


@dataclass(frozen=True)
class ObstacleCurve:
    """The resistance of one obstacle: the fitted law with its 95 % band, and the readings.

    Parameters
    ----------
    label : the words at the curve's end. short : fewer words, for where the others have no room.
    flow, drop, low, high : the law and its band on one grid of flows above zero.
    measured : (flow, pressure drop) of each reading.
    law : its form ("Δp = aQ + bQ²"). parameters : (name, value with unit) of the law, for the data table.
    """

    label: str
    flow: tuple[float, ...]
    drop: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    measured: tuple[tuple[float, float], ...] = ()
    law: str = ""
    short: str = ""
    parameters: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        thing = f"obstacle {self.label!r}"
        same_length(thing, flow=self.flow, drop=self.drop, low=self.low, high=self.high)
        finite(thing, (*self.flow, *self.drop, *self.low, *self.high))
        finite(f"readings of {self.label!r}", (each for pair in self.measured for each in pair))
        if len(self.flow) < 2:
            raise BadInput(thing, found=f"{len(self.flow)} points", expected="at least two")


@dataclass(frozen=True)
class ObstacleChart:
    """Pressure drop against airflow of several obstacles; `is_log` draws both axes by powers of ten."""

    title: str
    subtitle: str
    footer: str
    x_label: str
    x_unit: str
    y_label: str
    y_unit: str
    curves: tuple[ObstacleCurve, ...]
    is_log: bool = False
    notes: tuple[str, ...] = ()
    alt: str = ""


@dataclass(frozen=True)
class PanelChart:
    """Small multiples: one ranking a panel, all on one axis, the same fan on the same row.

    Parameters
    ----------
    panels : each with its own title (the obstacle, the limit) and bars; all share one axis by `RankedBars.beside`.
    cue : the direction ("longer is better"). heading : of the column of the table that says which panel.
    """

    title: str
    subtitle: str
    cue: str
    footer: str
    panels: tuple[RankedBars, ...]
    notes: tuple[str, ...] = ()
    alt: str = ""
    heading: str = "Through"


class Sign(StrEnum):
    """How a claim's verdict is drawn: the shape of the measured mark, never its colour alone."""

    HOLDS = "circle"
    UNRESOLVED = "diamond"
    FAILS = "square"
    UNPROVEN = "triangle-up"
    UNCHECKED = ""


@dataclass(frozen=True)
class ClaimRow:
    """One claim beside what was measured.

    Parameters
    ----------
    label : fan and quantity. verdict : in words. sign : how it is drawn.
    claim : as printed. measured : with its 95 % interval; both in words with units. short : both in few words.
    ratio, low, high : measured over claimed with its interval, in the chart's unit; None where not checkable.
    tolerance : ± of the claim in the chart's unit, 0 where none is printed.
    basis : samples and mountings in words. condition : as printed.
    """

    label: str
    verdict: str
    sign: Sign
    claim: str
    measured: str = ""
    short: str = ""
    ratio: float | None = None
    low: float | None = None
    high: float | None = None
    tolerance: float = 0.0
    basis: str = ""
    condition: str = ""

    def __post_init__(self) -> None:
        thing = f"claim {self.label!r}"
        finite(
            thing, (each for each in (self.ratio, self.low, self.high, self.tolerance) if each is not None)
        )
        interval(thing, self.low, self.high)
        if (self.ratio is None) != (self.low is None):
            raise BadInput(thing, found="a value without an interval", expected="both, or neither")


@dataclass(frozen=True)
class ClaimChart:
    """Box against measured: every claim at 100 %, what was measured beside it."""

    title: str
    subtitle: str
    footer: str
    rows: tuple[ClaimRow, ...]
    notes: tuple[str, ...] = ()
    alt: str = ""


@dataclass(frozen=True)
class CheckLimits:
    """The limits by which one check was judged, in the chart's unit: they narrow while a lab learns.

    Parameters
    ----------
    centre, low, high : of the single values. ewma, ewma_low, ewma_high : of the weighted mean.
    """

    centre: float
    low: float
    high: float
    ewma: float
    ewma_low: float
    ewma_high: float

    def __post_init__(self) -> None:
        finite("limits of a check", (self.centre, self.ewma))
        interval("limits of a check", self.low, self.high)
        interval("limits of a weighted mean", self.ewma_low, self.ewma_high)


@dataclass(frozen=True)
class CheckPoint:
    """One check of the reference fan.

    Parameters
    ----------
    date : of the check, ISO. value : in the chart's unit. limits : None while they aren't established.
    signal : what it signals, in words; "" for a quiet one. era : in which it was made.
    """

    date: str
    value: float
    limits: CheckLimits | None = None
    signal: str = ""
    era: str = ""

    def __post_init__(self) -> None:
        finite(f"check of {self.date}", (self.value,))


@dataclass(frozen=True)
class CheckEra:
    """A stretch between two changes that can move results: its name, and the first and last day, ISO."""

    label: str
    first: str
    last: str


@dataclass(frozen=True)
class CheckEvent:
    """A line of the log on the time axis, ISO time; `is_change` where it can have moved results: drawn darker."""

    time: str
    words: str
    is_change: bool = False


@dataclass(frozen=True)
class ControlPicture:
    """The reference fan's checks on one time axis, with eras, limits, signals and events."""

    title: str
    subtitle: str
    footer: str
    y_label: str
    y_unit: str
    points: tuple[CheckPoint, ...]
    eras: tuple[CheckEra, ...]
    events: tuple[CheckEvent, ...] = ()
    notes: tuple[str, ...] = ()
    alt: str = ""


Chart = (
    RankedBars
    | CurveChart
    | CollapseChart
    | ObstacleChart
    | PanelChart
    | ClaimChart
    | ControlPicture
    | LevelChart
    | SpectrumChart
    | RampChart
    | TradeChart
    | SettlingChart
    | AgreementChart
    | ResponseChart
)
