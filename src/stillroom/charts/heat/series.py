"""What the charts of heat are given: plain numbers in the shown unit, and words.

Temperature differences are in K, times in the shown unit. A value that is only forecast says so of itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from stillroom.charts.checked import finite, interval, rising, same_length
from stillroom.errors import BadInput


class Settled(StrEnum):
    """How the final value of a step was found; the words stand beside it."""

    MEASURED = "measured"
    FORECAST = "forecast"
    NOT_STEADY = "not steady"


@dataclass(frozen=True)
class ForecastBand:
    """The curve that a step was forecast to follow, with its 95 % band, on one rising grid of times."""

    time: tuple[float, ...]
    value: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]

    def __post_init__(self) -> None:
        same_length("forecast", time=self.time, value=self.value, low=self.low, high=self.high)
        finite("forecast", (*self.time, *self.value, *self.low, *self.high))
        rising("forecast", self.time)


@dataclass(frozen=True)
class SettlingStep:
    """One setting within a run.

    Parameters
    ----------
    first, last : when it was held. setting : in words ("43 %", "1,010 rpm, 35 dBA").
    how : whether its value was measured, forecast, or could not be had.
    value, low, high : its final value with the 95 % interval; all None where there is none, and `word` says why.
    since : when it became steady; None where it didn't.
    forecast : what it was forecast to do; None where nothing was.
    word : what is to be said of it.
    """

    first: float
    last: float
    setting: str
    how: Settled = Settled.MEASURED
    value: float | None = None
    low: float | None = None
    high: float | None = None
    since: float | None = None
    forecast: ForecastBand | None = None
    word: str = ""

    def __post_init__(self) -> None:
        thing = f"step at {self.setting}"
        told = (self.first, self.last, self.value, self.low, self.high, self.since)
        finite(thing, (each for each in told if each is not None))
        interval(thing, self.first, self.last)
        interval(thing, self.low, self.high)
        if (self.value is None) != (self.low is None):
            raise BadInput(thing, found="a value without an interval", expected="both, or neither")
        if self.value is None and not self.word:
            raise BadInput(thing, found="no value and no reason", expected="a word why there is none")
        if (self.value is None) != (self.how is Settled.NOT_STEADY):
            raise BadInput(thing, found=f"{self.how} with value {self.value}", expected="a value if settled")


@dataclass(frozen=True)
class SettlingMark:
    """Something that happened within a run: when, and its words ("door open")."""

    time: float
    words: str

    def __post_init__(self) -> None:
        finite(f"mark {self.words!r}", (self.time,))


@dataclass(frozen=True)
class SettlingChart:
    """Temperature difference against time of one run, setting by setting.

    Parameters
    ----------
    time, value : the record on one rising grid; gaps of the logger are told by `gaps`.
    left_out : (first, last) of each stretch that was read but not used: spikes, an opened door.
    gaps : (first, last) of each stretch without readings: the line is broken there.
    """

    title: str
    subtitle: str
    footer: str
    x_label: str
    x_unit: str
    y_label: str
    y_unit: str
    label: str
    time: tuple[float, ...]
    value: tuple[float, ...]
    steps: tuple[SettlingStep, ...]
    left_out: tuple[tuple[float, float], ...] = ()
    gaps: tuple[tuple[float, float], ...] = ()
    marks: tuple[SettlingMark, ...] = ()
    notes: tuple[str, ...] = ()
    alt: str = ""

    def __post_init__(self) -> None:
        thing = f"record of {self.label!r}"
        same_length(thing, time=self.time, value=self.value)
        finite(thing, (*self.time, *self.value))
        rising(thing, self.time)
        for words, stretches in (("left out", self.left_out), ("gap", self.gaps)):
            for first, last in stretches:
                interval(f"stretch of {self.label!r}, {words}", first, last)
        if not self.steps:
            raise BadInput(thing, found="no step", expected="one or more")


@dataclass(frozen=True)
class AgreementPoint:
    """One step of a run: what airflow predicts, and what the heat rig measured, each with its 95 % interval.

    Parameters
    ----------
    label : the fan. setting : in words. word : what is to be said of it ("heat-1 disagrees"); "" for one that agrees.
    how : whether the measured value was forecast. accent : the fan under review.
    """

    label: str
    predicted: float
    predicted_low: float
    predicted_high: float
    measured: float
    low: float
    high: float
    word: str = ""
    how: Settled = Settled.MEASURED
    accent: bool = False
    setting: str = ""

    @property
    def name(self) -> str:
        """Fan and setting."""
        return " · ".join(filter(None, (self.label, self.setting)))

    def __post_init__(self) -> None:
        thing = f"agreement of {self.label!r}"
        finite(thing, (self.predicted, self.measured))
        interval(thing, self.predicted_low, self.predicted_high)
        interval(thing, self.low, self.high)
        if self.how is Settled.NOT_STEADY:
            raise BadInput(thing, found="a step that was not steady", expected="a measured or forecast value")


@dataclass(frozen=True)
class AgreementChart:
    """Predicted from airflow against measured, with the band within which the two agree.

    Parameters
    ----------
    at, low, high : the band about equality on one rising grid of predicted values.
    band_words : what the band is ("agree within 95 %").
    """

    title: str
    subtitle: str
    footer: str
    x_label: str
    y_label: str
    unit: str
    points: tuple[AgreementPoint, ...]
    at: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    band_words: str = ""
    notes: tuple[str, ...] = ()
    alt: str = ""

    def __post_init__(self) -> None:
        thing = "band of agreement"
        same_length(thing, at=self.at, low=self.low, high=self.high)
        finite(thing, (*self.at, *self.low, *self.high))
        rising(thing, self.at)
        if not self.points:
            raise BadInput("agreement", found="no run", expected="one or more")
