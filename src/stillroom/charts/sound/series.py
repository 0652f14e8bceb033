"""What the charts of sound are given: plain numbers in the shown unit, and words.

Levels are in dB, speeds in the shown unit, frequencies in Hz. A level that is only a bound says so of itself.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from stillroom.charts.checked import finite, interval, rising, same_length
from stillroom.charts.series import Bound
from stillroom.errors import BadInput

Cells = NDArray[np.float32]


@dataclass(frozen=True)
class LevelPoint:
    """One dwell: a level at a speed.

    Parameters
    ----------
    speed, level : where it lies. low, high : 95 % interval of the level; both None where there is none.
    bound : whether the level is only a limit.
    """

    speed: float
    level: float
    low: float | None = None
    high: float | None = None
    bound: Bound = Bound.NONE

    def __post_init__(self) -> None:
        ends = (each for each in (self.low, self.high) if each is not None)
        finite("level at a speed", (self.speed, self.level, *ends))
        interval("level at a speed", self.low, self.high)


@dataclass(frozen=True)
class LevelLine:
    """Level against speed of one fan: the line with its 95 % band, dwells, and the ramp as it was read.

    Parameters
    ----------
    label : the words at its end.
    speed, level, low, high : the line and its band on one rising grid (low and high may be empty).
    bound : where the level is at most the line; empty where it is nowhere.
    points : dwells. ramp : (speed, level) of the ramps as they were read.
    accent : the fan under review.
    """

    label: str
    speed: tuple[float, ...]
    level: tuple[float, ...]
    low: tuple[float, ...] = ()
    high: tuple[float, ...] = ()
    bound: tuple[bool, ...] = ()
    points: tuple[LevelPoint, ...] = ()
    ramp: tuple[tuple[float, float], ...] = ()
    accent: bool = False

    def __post_init__(self) -> None:
        thing = f"levels of {self.label!r}"
        same_length(thing, speed=self.speed, level=self.level)
        if self.low or self.high:
            same_length(thing, speed=self.speed, low=self.low, high=self.high)
        if self.bound:
            same_length(thing, speed=self.speed, bound=self.bound)
        finite(thing, (*self.speed, *self.level, *self.low, *self.high))
        finite(f"ramp of {self.label!r}", (each for pair in self.ramp for each in pair))
        rising(thing, self.speed)


@dataclass(frozen=True)
class LimitLine:
    """A limit of level: `label` with its distance ("35 dBA")."""

    level: float
    label: str

    def __post_init__(self) -> None:
        finite(f"limit {self.label!r}", (self.level,))


@dataclass(frozen=True)
class LimitMark:
    """Where a line meets a limit: the speed with its 95 % interval, and the words beside it."""

    speed: float
    level: float
    low: float
    high: float
    label: str
    line: str = ""

    def __post_init__(self) -> None:
        finite(f"speed at a limit {self.label!r}", (self.speed, self.level, self.low, self.high))
        interval(f"speed at a limit {self.label!r}", self.low, self.high)


@dataclass(frozen=True)
class AvoidBand:
    """A band of speeds to avoid, with its words ("avoid 1100–1330 rpm"), and the label of the line that it is of."""

    low: float
    high: float
    words: str
    line: str = ""

    def __post_init__(self) -> None:
        finite(f"band {self.words!r}", (self.low, self.high))
        interval(f"band {self.words!r}", self.low, self.high)


@dataclass(frozen=True)
class LevelChart:
    """Level against speed of one fan, or of a few.

    Of one fan, bands to avoid are shaded with their words above; of several, each is a broad stroke along its line,
    and `notes` should carry the words.

    Parameters
    ----------
    floor, floor_words : the noise floor of the chain and its words; None where it is unknown.
    """

    title: str
    subtitle: str
    footer: str
    x_label: str
    x_unit: str
    y_label: str
    y_unit: str
    lines: tuple[LevelLine, ...]
    limits: tuple[LimitLine, ...] = ()
    marks: tuple[LimitMark, ...] = ()
    avoid: tuple[AvoidBand, ...] = ()
    floor: float | None = None
    floor_words: str = ""
    notes: tuple[str, ...] = ()
    alt: str = ""


@dataclass(frozen=True)
class SpectrumBand:
    """One band: its nominal mid-band frequency in words, its edges [Hz], level and background.

    Parameters
    ----------
    bound : whether the level is only a limit. background : None where it wasn't recorded.
    """

    name: str
    low: float
    high: float
    level: float
    bound: Bound = Bound.NONE
    background: float | None = None

    def __post_init__(self) -> None:
        thing = f"band {self.name}"
        finite(thing, (self.level, *(() if self.background is None else (self.background,))))
        if not 0.0 < self.low < self.high:
            raise BadInput(thing, found=f"{self.low:g} to {self.high:g} Hz", expected="edges above zero")


@dataclass(frozen=True)
class ToneMark:
    """A prominent tone: where it lies [Hz], and its words ("blade pass 222 Hz")."""

    frequency: float
    words: str

    def __post_init__(self) -> None:
        if not 0.0 < self.frequency < float("inf"):
            raise BadInput(f"tone {self.words!r}", found=repr(self.frequency), expected="above 0 Hz")


@dataclass(frozen=True)
class SpectrumChart:
    """Band levels of one fan at one speed before its background; `label` names the fan's steps."""

    title: str
    subtitle: str
    footer: str
    y_label: str
    y_unit: str
    label: str
    bands: tuple[SpectrumBand, ...]
    tones: tuple[ToneMark, ...] = ()
    notes: tuple[str, ...] = ()
    alt: str = ""


@dataclass(frozen=True)
class OrderLine:
    """One order over a ramp: its name, and its frequency [Hz] along the abscissa."""

    label: str
    across: tuple[float, ...]
    frequency: tuple[float, ...]

    def __post_init__(self) -> None:
        thing = f"order {self.label!r}"
        same_length(thing, across=self.across, frequency=self.frequency)
        finite(thing, (*self.across, *self.frequency))
        if len(self.across) < 2 or min(self.frequency) <= 0.0:
            raise BadInput(thing, found="too few points, or one at 0 Hz", expected="two or more above 0 Hz")


@dataclass(frozen=True, eq=False)
class RampChart:
    """A spectrogram over a ramp: level as lightness, frequency by powers of ten upwards.

    Parameters
    ----------
    x_low, x_high : ends of the abscissa, speed or time. y_low, y_high : ends of the ordinate [Hz].
    cells : level [dB] of each cell, (frequencies, abscissa), rows from low to high in equal steps of the logarithm;
        NaN where nothing was recorded. quiet, loud : the levels at which lightness begins and ends [dB].
    levels : (abscissa, A-weighted level) along the ramp, for the table.
    avoid : bands of the abscissa that are named above.
    """

    title: str
    subtitle: str
    footer: str
    x_label: str
    x_unit: str
    x_low: float
    x_high: float
    y_low: float
    y_high: float
    cells: Cells
    quiet: float
    loud: float
    scale_words: str
    orders: tuple[OrderLine, ...] = ()
    avoid: tuple[AvoidBand, ...] = ()
    levels: tuple[tuple[float, float], ...] = ()
    notes: tuple[str, ...] = ()
    alt: str = ""
    y_label: str = "Frequency"
    y_unit: str = "Hz"
    level_unit: str = field(default="dBA")

    def __post_init__(self) -> None:
        finite("spectrogram", (self.x_low, self.x_high, self.y_low, self.y_high, self.quiet, self.loud))
        if self.cells.ndim != 2 or min(self.cells.shape) < 2:
            raise BadInput("spectrogram", found=f"cells {self.cells.shape}", expected="two rows and columns")
        if not (self.x_low < self.x_high and 0.0 < self.y_low < self.y_high and self.quiet < self.loud):
            raise BadInput("spectrogram", found="ends the wrong way round", expected="low < high")
        if np.isinf(self.cells).any():
            raise BadInput("spectrogram", found="an infinite level", expected="finite levels, NaN for none")


@dataclass(frozen=True)
class TradeTick:
    """One place on a line with its 95 % intervals, both ways; `limit` names the limit that it is at, or ""."""

    level: float
    level_low: float
    level_high: float
    value: float
    low: float
    high: float
    limit: str = ""
    speed: float = 0.0

    def __post_init__(self) -> None:
        thing = "value at a level"
        finite(thing, (self.level, self.value))
        interval(thing, self.level_low, self.level_high)
        interval(thing, self.low, self.high)


@dataclass(frozen=True)
class TradeLine:
    """A quantity against level of one fan along its speed, folds kept: the order of the points is that of the speed.

    Parameters
    ----------
    speed, level, value : on one rising grid of speeds. low, high : 95 % band of the value (may be empty).
    bound : where the level is only at most that.
    ticks : places with their intervals. accent : the fan under review. word : what is to be said at its label.
    """

    label: str
    speed: tuple[float, ...]
    level: tuple[float, ...]
    value: tuple[float, ...]
    bound: tuple[bool, ...] = ()
    ticks: tuple[TradeTick, ...] = ()
    accent: bool = False
    word: str = ""
    low: tuple[float, ...] = ()
    high: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        thing = f"quantity against noise of {self.label!r}"
        same_length(thing, speed=self.speed, level=self.level, value=self.value)
        for each in ({"bound": self.bound}, {"low": self.low, "high": self.high}):
            if any(each.values()):
                same_length(thing, speed=self.speed, **each)
        finite(thing, (*self.speed, *self.level, *self.value, *self.low, *self.high))
        rising(thing, self.speed)


@dataclass(frozen=True)
class TradeChart:
    """A quantity (airflow, heat) against noise of up to five fans, with limits as thin lines.

    Parameters
    ----------
    cue : the direction that is better ("lower is cooler"); "" where it needs no words.
    """

    title: str
    subtitle: str
    footer: str
    x_label: str
    x_unit: str
    y_label: str
    y_unit: str
    lines: tuple[TradeLine, ...]
    limits: tuple[LimitLine, ...] = ()
    speed_unit: str = "rpm"
    notes: tuple[str, ...] = ()
    alt: str = ""
    cue: str = ""
