"""What the rules of control are told: plain facts of tables and mountings, gathered by the lab."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from stillroom.core.control.control_mounting import ControlMounting
from stillroom.records.limits import Limits

RPM = 1.0 / 60.0


@dataclass(frozen=True, kw_only=True)
class TableFacts:
    """One table of a test of the control, as it was worked out.

    Parameters
    ----------
    run, key, file : identity, key of its reading, and file. table : "steps", "starts" or "inrush".
    control : "duty" or "volts", "" where it isn't known. pwm_frequency [Hz], None where nobody told.
    supply : lowest and highest supply voltage under a duty that was moved [V], None where it wasn't read.
    pairs : tachometer and optical tachometer [1/s]. overflow : a display's largest number that was read as a speed
    [1/s], None where none was; overflows : how often. unsettled : (setting, speed [1/s], relative scatter) of steps.
    attempts : (setting, attempts, started, time at rest [s] or None, cold or None). resolution : of the speed [1/s].
    warm_up : time at the setting before it [s], None where nobody told.
    """

    run: str
    key: str
    file: str
    table: str
    control: str = ""
    pwm_frequency: float | None = None
    supply: tuple[float, float] | None = None
    pairs: tuple[tuple[float, float], ...] = ()
    overflow: float | None = None
    overflows: int = 0
    unsettled: tuple[tuple[float, float, float], ...] = ()
    attempts: tuple[tuple[float, int, int, float | None, bool | None], ...] = ()
    resolution: float = 0.0
    warm_up: float | None = None

    @property
    def subject(self) -> str:
        """As a finding names it."""
        return f"run:{self.run}"

    @classmethod
    def of(cls, told: Mapping[str, Any], warm_up: float | None) -> TableFacts:
        """From what was kept of one table."""
        return cls(
            run=told["run"],
            key=told["key"],
            file=told["file"],
            table=told["table"],
            control=told["control"],
            pwm_frequency=told["pwm_frequency"],
            supply=tuple(told["supply"]) if told["supply"] else None,
            pairs=tuple((each[0], each[1]) for each in told["pairs"]),
            overflow=told["overflow"],
            overflows=told["overflows"],
            unsettled=tuple((each[0], each[1], each[2]) for each in told["unsettled"]),
            attempts=tuple((each[0], each[1], each[2], each[3], each[4]) for each in told["attempts"]),
            resolution=told["resolution"],
            warm_up=warm_up,
        )


@dataclass(frozen=True, kw_only=True)
class ControlledMounting:
    """A mounting whose control was tested.

    Parameters
    ----------
    name, fan, sample : names. judged : key of what findings judge. blocked_as : under which name it is blocked.
    tables : in their order. control : None where it could not be had; then `failed` says why.
    """

    name: str
    fan: str
    sample: str
    judged: str
    blocked_as: str
    tables: tuple[TableFacts, ...]
    control: ControlMounting | None = None
    failed: str = ""

    @property
    def subject(self) -> str:
        """As a finding names it."""
        return f"mounting:{self.name}"


@dataclass(frozen=True, kw_only=True)
class ControlledFan:
    """A fan with all tests of its control.

    Parameters
    ----------
    name : the fan's. mountings : by name. pulses : per revolution as its record tells, None where it doesn't.
    full_speed : that its box tells [1/s], None likewise. limits : in force.
    """

    name: str
    mountings: tuple[ControlledMounting, ...]
    pulses: int | None = None
    full_speed: float | None = None
    limits: Limits = Limits()
