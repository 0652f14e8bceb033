"""One mounting's control behaviour as a whole: its response both ways, where it starts and stops, its inrush."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from stillroom.core.arrays import Array


class Behaviour(Enum):
    """What a fan does at the low end of its control."""

    STOPS = "stops"
    KEEPS_MINIMUM = "keeps a minimum speed"
    OFF_AT_ZERO = "keeps a minimum speed, and is off at 0 %"
    NEVER_STOPPED = "never stopped in the test"
    FULL_AT_ZERO = "goes to full speed with no control signal"


class How(Enum):
    """How a threshold was obtained."""

    STEPS = "steps of the response"
    ATTEMPTS = "start attempts"
    BOTH = "failed start attempts, and the response above them"
    ABOVE_STANDING = "start attempts, and the response below them"


@dataclass(frozen=True)
class Threshold:
    """A setting that lies between two tested ones: an interval, not a value.

    Parameters
    ----------
    low : the greatest tested setting on its far side [SI]; None where none was tested: it is at most `high`.
    high : the smallest tested setting on its near side [SI]; None where none was: it is more than `low`.
    how : from what it was obtained.
    """

    low: float | None
    high: float | None
    how: How


@dataclass(frozen=True)
class Response:
    """Speed against setting in one direction, in the order in which it was taken.

    Parameters
    ----------
    settings : duty [1] or voltage [V], (n,). speeds : 0.0 where it stood still [1/s], (n,).
    u : standard uncertainty of each speed by itself: scatter and resolution, not what the meter shares [1/s], (n,).
    """

    settings: Array
    speeds: Array
    u: Array


@dataclass(frozen=True)
class StartCount:
    """Start attempts at one setting.

    Parameters
    ----------
    setting : [SI]. attempts, started : how many. bound : with 95 % confidence it starts at least so often [1].
    from_rest : whether all were from rest, cold : whether all were cold; None where nobody told.
    """

    setting: float
    attempts: int
    started: int
    bound: float
    from_rest: bool | None
    cold: bool | None


@dataclass(frozen=True)
class Linearity:
    """The greatest departure from the specification's line.

    Parameters
    ----------
    departure : speed over full speed less duty, where it is greatest by amount [1]. u : its uncertainty [1].
    setting : where [1]. falling : whether it was found with a falling duty.
    """

    departure: float
    u: float
    setting: float
    falling: bool


@dataclass(frozen=True)
class Drive:
    """Behaviour under one way of control.

    Parameters
    ----------
    kind : "duty" or "volts". up, down : the response with rising and falling settings; None where not taken.
    full, u_full : speed at the greatest setting and its own uncertainty [1/s]. full_setting : that setting [SI]; all
    None where only start attempts were made.
    lowest_setting : the last that still turned with falling settings [SI]; lowest, u_lowest : its speed [1/s];
    all None where no falling settings were taken.
    stop, start : None where nothing tells. starts : counts at each setting, rising.
    hysteresis : greatest difference between both ways where both turn, share of full speed [1]; hysteresis_at : where.
    linearity : None under voltage, or with too few steps. behaviour : None where nothing tells.
    falls_back : two neighbouring settings between which the speed falls though the setting rises; None where none do.
    slowest : the lowest speed that it may have above the setting at which it stood, by the slope there [1/s]; None
    where it never stood. lowest_shared : {identity of a shared source: change of `lowest` by one standard deviation}.
    """

    kind: str
    up: Response | None
    down: Response | None
    full: float | None
    u_full: float | None
    full_setting: float | None
    lowest_setting: float | None
    lowest: float | None
    u_lowest: float | None
    stop: Threshold | None
    start: Threshold | None
    starts: tuple[StartCount, ...]
    hysteresis: float | None
    hysteresis_at: float | None
    linearity: Linearity | None
    behaviour: Behaviour | None
    falls_back: tuple[float, float] | None
    slowest: float | None
    lowest_shared: Mapping[str, float]


@dataclass(frozen=True)
class OpenWire:
    """Speed with the control wire open [1/s], with its own uncertainty, and as a share of full speed [1]."""

    speed: float
    u: float
    share: float
    u_share: float


@dataclass(frozen=True)
class Inrush:
    """Current at the start.

    Parameters
    ----------
    peak, u : greatest current and its uncertainty [A]. is_bound : it is at least that, the record being too coarse.
    length : how long it is above its steady current by a tenth of the excess [s]; None where there is no record.
    steady : current afterwards [A]; None where there is no record.
    above_limit : how long it is above the specification's steady limit [s]; None where there is no record.
    """

    peak: float
    u: float
    is_bound: bool
    length: float | None
    steady: float | None
    above_limit: float | None


@dataclass(frozen=True)
class ControlMounting:
    """One mounting's control behaviour, reduced.

    Parameters
    ----------
    drives : {"duty": …, "volts": …} those that were tested. open_wire, inrush : None where not tested.
    marks : what must be said beside the numbers.
    """

    drives: dict[str, Drive]
    open_wire: OpenWire | None
    inrush: Inrush | None
    marks: tuple[str, ...] = ()
