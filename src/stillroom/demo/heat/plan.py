"""What is done on the heat rig: runs of several settings, checks of the rig, a bath for its probes."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import Enum

from stillroom.demo.round import Happening

RIG = "heat-1"
FANS = 2
"""Fans that blow on the radiator, side by side: a pair out of one box, taken to be alike."""
NOMINAL_POWER = 300.0
"""Of the heater [W]."""
LIMITS = (25.0, 30.0, 35.0)
"""Levels that the set list names [dBA]: the quietest, and so the hottest, first."""
MODEL, FULL_SPEED = "", "full speed"
"""In place of a sample's name: the fan as a model. The condition of full speed."""
LONG_ENOUGH = 6.6
"""How long a setting is held, in time constants of the rig with that fan."""


class Form(Enum):
    """What the loggers of a run write.

    BENCH_TWO : temperatures in a local text (semicolons, decimal commas, Windows-1252, local dates) with the room's
    air; heater, liquid, fan by the second of the epoch. BENCH_THREE : the room's air by a third logger, in seconds
    since its start. ONE : one table of everything with ISO times.
    """

    BENCH_TWO = "two loggers"
    BENCH_THREE = "three loggers"
    ONE = "one logger"


@dataclass(frozen=True)
class Trouble:
    """What is wrong in a run. The default is nothing.

    Parameters
    ----------
    cut : the last setting ends after so many time constants; 0 for none.
    clock : what the power logger's clock is ahead, unsaid [s]. door : whether a door is opened during a setting.
    stray : from when to when the second air probe hangs in the warmed air [s]. load : standard deviation with which the
    heater wanders [1]. pulses : the tachometer's reading over the true speed.
    """

    cut: float = 0.0
    clock: float = 0.0
    door: bool = False
    stray: tuple[float, float] | None = None
    load: float = 0.0
    pulses: float = 1.0


NONE = Trouble()


@dataclass(frozen=True)
class HeatRun:
    """One act of fitting a sample to the heat rig, and all settings of it.

    Parameters
    ----------
    fan, sample, number : whose it is; `number` counts the mountings of that sample on this rig.
    day : working day.
    limits : levels whose settings are run [dBA], in this order; empty for full speed alone.
    again : whether the first setting is repeated at the end. check : whether it watches the rig.
    form : of its files. interval : between two rows [s].
    told_clock : what the power logger's clock is behind, as the run table says [s].
    hold : how long a setting is held, in time constants of the rig.
    """

    fan: str
    sample: str
    number: int
    day: int = 0
    limits: tuple[float, ...] = LIMITS
    again: bool = False
    check: bool = False
    form: Form = Form.BENCH_TWO
    interval: float = 4.0
    told_clock: float = 0.0
    hold: float = LONG_ENOUGH
    wrong: Trouble = field(default=NONE)

    @property
    def name(self) -> str:
        """Its name in the tables."""
        return f"{self.fan}-{self.sample}-h{self.number}"

    def faultless(self) -> HeatRun:
        """The same run with nothing wrong."""
        return replace(self, wrong=NONE)


@dataclass(frozen=True)
class Bath:
    """All probes in one stirred bath: on a working day at an hour, at a temperature [K]."""

    day: int
    hour: float = 8.0
    temperature: float = 273.15 + 25.0
    minutes: float = 12.0
    interval: float = 4.0


@dataclass(frozen=True)
class HeatPlan:
    """All that is done on the heat rig in a round.

    Parameters
    ----------
    runs : in order. bath : before them. log : what befell the rig.
    flow : share of its set flow that the coolant has lost on a working day, {day: share}.
    paste_day : from this day the block conducts better; 0 for never.
    """

    runs: tuple[HeatRun, ...]
    bath: Bath
    log: tuple[Happening, ...] = ()
    flow: dict[int, float] = field(default_factory=dict)
    paste_day: int = 0
