"""What a chart is given: series of plain numbers in the unit that is shown, and words.

Callers fill these; nothing here knows a fan, a lab or a unit conversion. Each class checks that it can be
drawn, so that a chart never shows a gap or a NaN in silence.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from stillroom.charts.checked import finite, interval, same_length
from stillroom.errors import BadInput


class Bound(StrEnum):
    """Whether a value is the value, or only a limit for it."""

    NONE = ""
    AT_LEAST = "≥"
    AT_MOST = "≤"


@dataclass(frozen=True)
class Bar:
    """One fan in a ranking.

    Parameters
    ----------
    label : the fan's name.
    value : the measure, zero or more, in the chart's unit.
    low, high : its 95 % interval; both None where there is none.
    mark_word : the word beside the value ("too close to call"); the same for every fan that may be the best.
    is_leader_tied : the fan is the leader, or can't be told from it.
    note : what a reader must know of this one ("one sample", "tops out at 33 dBA").
    accent : the fan under review.
    bound : the value is only a limit.
    is_legacy : a finished number without raw data: drawn with an open bar, and its word in `note`.
    is_range : one value would be a lie: low to high is the range, drawn and written as one.
    is_missing : there is no value; the row keeps its place with `note` as the reason.
    """

    label: str
    value: float
    low: float | None
    high: float | None
    mark_word: str = ""
    is_leader_tied: bool = False
    note: str = ""
    accent: bool = False
    bound: Bound = Bound.NONE
    is_legacy: bool = False
    is_missing: bool = False
    is_range: bool = False

    def __post_init__(self) -> None:
        thing = f"bar of {self.label!r}"
        finite(thing, (self.value, *(each for each in (self.low, self.high) if each is not None)))
        if self.value < 0:
            raise BadInput(thing, found=repr(self.value), expected="zero or more: a bar starts at zero")
        interval(thing, self.low, self.high)
        if self.is_range and self.low is None:
            raise BadInput(thing, found="a range without ends", expected="low and high")


@dataclass(frozen=True)
class RankedBars:
    """A ranking: bars in the order given (best first), and the fans that can't be ranked.

    Parameters
    ----------
    title : the finding.
    subtitle : the condition and the unit.
    cue : the direction ("longer is better").
    footer : method, n, date, release.
    unit : the unit of all values.
    bars : best first.
    excluded : (fan, why) of those that can't be ranked.
    alt : the alt text.
    measure : the measure's name, for the data table.
    beside : the bars of the other charts of a series: all share one axis, so that lengths may be compared.
    notes : what stands beneath, besides the fans that can't be ranked.
    starts_at : where the scale starts, for a quantity without a zero: dots stand on it instead of bars.
    """

    title: str
    subtitle: str
    cue: str
    footer: str
    unit: str
    bars: tuple[Bar, ...]
    excluded: tuple[tuple[str, str], ...] = ()
    alt: str = ""
    measure: str = "Value"
    beside: tuple[Bar, ...] = ()
    notes: tuple[str, ...] = ()
    starts_at: float | None = None


@dataclass(frozen=True)
class Curve:
    """One fan curve: the fitted line with its 95 % band, and the points as measured.

    Parameters
    ----------
    label : the words at the curve.
    flow, pressure, low, high : the line and its band on one grid of flows (low and high may be empty).
    measured : (flow, pressure) of each point as measured.
    accent : the fan under review, or the newest mounting.
    is_pale : steps back: the mounting before, beneath the new one.
    word : what is to be said of it at its label.
    """

    label: str
    flow: tuple[float, ...]
    pressure: tuple[float, ...]
    low: tuple[float, ...] = ()
    high: tuple[float, ...] = ()
    measured: tuple[tuple[float, float], ...] = ()
    accent: bool = False
    is_pale: bool = False
    word: str = ""

    def __post_init__(self) -> None:
        thing = f"curve {self.label!r}"
        same_length(thing, flow=self.flow, pressure=self.pressure)
        if self.low or self.high:
            same_length(thing, flow=self.flow, low=self.low, high=self.high)
        finite(thing, (*self.flow, *self.pressure, *self.low, *self.high))
        finite(f"points of {self.label!r}", (each for pair in self.measured for each in pair))
        if len(self.flow) < 2:
            raise BadInput(thing, found=f"{len(self.flow)} points", expected="at least two")


@dataclass(frozen=True)
class LoadLine:
    """The resistance of one obstacle: pressure drop against flow."""

    label: str
    flow: tuple[float, ...]
    pressure: tuple[float, ...]

    def __post_init__(self) -> None:
        thing = f"load line {self.label!r}"
        same_length(thing, flow=self.flow, pressure=self.pressure)
        finite(thing, (*self.flow, *self.pressure))
        if len(self.flow) < 2:
            raise BadInput(thing, found=f"{len(self.flow)} points", expected="at least two")


@dataclass(frozen=True)
class OperatingMark:
    """Where a fan curve meets a load line.

    Parameters
    ----------
    label : what stands beside the dot (the airflow, with honest digits); may be empty.
    flow, pressure : the point.
    flow_low, flow_high : the 95 % interval of the flow, or the range of flows when it isn't unique.
    is_stable, is_unique : how the dot is drawn.
    word : the word beside it when it is not a plain stable point ("not unique").
    curve, load : the labels of its curve and load line, for the data table.
    accent : the fan under review.
    crossings : (flow, pressure, whether it is stable) of every crossing, where there are several.
    number : what stands at the dot instead of the label, for a key; 0 for none.
    """

    label: str
    flow: float
    pressure: float
    flow_low: float | None = None
    flow_high: float | None = None
    is_stable: bool = True
    is_unique: bool = True
    word: str = ""
    curve: str = ""
    load: str = ""
    accent: bool = False
    crossings: tuple[tuple[float, float, bool], ...] = ()
    number: int = 0

    def __post_init__(self) -> None:
        ends = (each for each in (self.flow_low, self.flow_high) if each is not None)
        finite(f"operating point {self.label!r}", (self.flow, self.pressure, *ends))
        finite(f"crossings of {self.label!r}", (each for at in self.crossings for each in at[:2]))


@dataclass(frozen=True)
class CurveChart:
    """PQ curves with load lines and operating points.

    `x_label` and `y_label` carry the quantity, `x_unit` and `y_unit` the units.
    """

    title: str
    subtitle: str
    footer: str
    x_label: str
    x_unit: str
    y_label: str
    y_unit: str
    curves: tuple[Curve, ...]
    loads: tuple[LoadLine, ...] = ()
    points: tuple[OperatingMark, ...] = ()
    notes: tuple[str, ...] = ()
    alt: str = ""


@dataclass(frozen=True)
class Sweep:
    """One sweep in dimensionless form.

    Parameters
    ----------
    label : its name in words ("1,200 rpm, mounting 2").
    phi, psi : flow and pressure coefficient of each point [1].
    residual : each point's distance from the fitted curve [% of the curve].
    speed, mounting : the words by which points are shaded and shaped.
    held : the sweep isn't used in the fit.
    word : why it is held, or what is odd about it.
    """

    label: str
    phi: tuple[float, ...]
    psi: tuple[float, ...]
    residual: tuple[float, ...]
    speed: str = ""
    mounting: str = ""
    held: bool = False
    word: str = ""

    def __post_init__(self) -> None:
        thing = f"sweep {self.label!r}"
        same_length(thing, phi=self.phi, psi=self.psi, residual=self.residual)
        finite(thing, (*self.phi, *self.psi, *self.residual))


@dataclass(frozen=True)
class CollapseChart:
    """All sweeps of a fan on one dimensionless curve, and what is left over beneath.

    `phi`, `psi`, `low`, `high` are the fitted curve and its 95 % band on one grid.
    """

    title: str
    subtitle: str
    footer: str
    sweeps: tuple[Sweep, ...]
    phi: tuple[float, ...]
    psi: tuple[float, ...]
    low: tuple[float, ...] = ()
    high: tuple[float, ...] = ()
    x_label: str = "flow coefficient φ"
    y_label: str = "pressure coefficient ψ"
    notes: tuple[str, ...] = ()
    alt: str = ""

    def __post_init__(self) -> None:
        same_length("fitted curve", phi=self.phi, psi=self.psi)
        if self.low or self.high:
            same_length("fitted curve", phi=self.phi, low=self.low, high=self.high)
        finite("fitted curve", (*self.phi, *self.psi, *self.low, *self.high))
