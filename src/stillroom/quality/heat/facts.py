"""What the rules of heat are told: plain facts of steps, mountings and fans, from the lab or from a watched rig."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from stillroom.core.heat.heat_curve import HeatCurve
from stillroom.core.heat.heat_mounting import HeatStep
from stillroom.core.speeds import WORDS, setting_words
from stillroom.records.limits import Limits

KELVIN = 273.15


@dataclass(frozen=True)
class ClockFacts:
    """How the clock of a logger was brought to that of the hot probe.

    Parameters
    ----------
    logger : its name. how : "same clock", "stated offset", "shared edge", "not aligned".
    offset : added to its times [s]. u : of that [s]; None where nothing tells it. edges : that both saw.
    found, u_found : offset that shared edges show where one was stated [s]; None where none does.
    why : why it could not be aligned. is_paired : whether its readings are taken together with others'.
    """

    logger: str
    how: str
    offset: float = 0.0
    u: float | None = 0.0
    edges: int = 0
    found: float | None = None
    u_found: float | None = None
    why: str = ""
    is_paired: bool = True


@dataclass(frozen=True)
class Gust:
    """A short change of the air going in: an opened door, a probe that hung wrongly.

    Parameters
    ----------
    first, last : on the mounting's clock [s]. depth : greatest change against the minutes around it [K].
    step : number of the step that it lies in.
    """

    first: float
    last: float
    depth: float
    step: int


@dataclass(frozen=True)
class ExpectedSpeed:
    """What else is known of a fan's speed at a step's setting: the speed [1/s], and by what, in words."""

    speed: float
    by: str


@dataclass(frozen=True, kw_only=True)
class WarmMounting:
    """The heat of one mounting, of a run that is over or of one that still grows.

    Parameters
    ----------
    name, fan, sample, rig, radiator, date : of it. judged : the key that findings judge.
    blocked_as : under which name it is blocked while a finding is open. file : of the hot probe's log.
    steps : in order of time. is_running : whether the last of them still grows.
    curve : rise against speed; None where there is none, `failed` then says why.
    clocks : of its loggers. gusts : in the air going in.
    nominal : heat to which rises are brought [W]. fans : how many blow on the radiator.
    liquid_flow : that is set [m³/s]. coolant_age : of its filling [s]. None where nobody told.
    balance : liquid over heat put in, mean of the reference fan's last run before [1], and its day.
    u_apart : standard uncertainty of the difference of two probes of the air, those that are known worst [K].
    airflows : {step: flow through the radiator, of all its fans, by the airflow rig [m³/s]}.
    speeds : {step: what else is known of its speed}. era : of the rig: its number.
    marks : of the method.
    """

    name: str
    fan: str
    sample: str
    rig: str
    radiator: str = ""
    date: str = ""
    judged: str = ""
    blocked_as: str = ""
    file: str = ""
    steps: tuple[HeatStep, ...] = ()
    is_running: bool = False
    curve: HeatCurve | None = None
    failed: str = ""
    clocks: tuple[ClockFacts, ...] = ()
    gusts: tuple[Gust, ...] = ()
    nominal: float = 300.0
    fans: int = 1
    liquid_flow: float | None = None
    coolant_age: float | None = None
    balance: tuple[float, str] | None = None
    u_apart: float = 0.0
    airflows: Mapping[int, float] = field(default_factory=dict)
    speeds: Mapping[int, ExpectedSpeed] = field(default_factory=dict)
    marks: tuple[str, ...] = ()
    era: int = 0

    @property
    def subject(self) -> str:
        """As a finding names it."""
        return f"mounting:{self.name}"

    @property
    def over(self) -> tuple[HeatStep, ...]:
        """The steps that are over."""
        return self.steps[:-1] if self.is_running else self.steps

    @property
    def seen(self) -> tuple[HeatStep, ...]:
        """The steps that are results, and the one that still grows."""
        growing = self.steps[-1] if self.is_running and self.steps else None
        return tuple(each for each in self.steps if each.is_result or each is growing)


@dataclass(frozen=True)
class LawFacts:
    """Runs that lie off the law of resistance against airflow of their rig's era.

    Parameters
    ----------
    against : what they speak against, in words. name : fan or mounting; "from DATE" for all runs since.
    shift, z : measured over predicted − 1, and over its standard uncertainty [1].
    delta : the shift in kelvin at nominal power [K]. mountings : {mounting: fan} that lie off.
    event : what the log holds last before that date, or "". flow_fell : whether the coolant's flow fell with it.
    """

    against: str
    name: str
    shift: float
    z: float
    delta: float
    mountings: Mapping[str, str]
    event: str = ""
    flow_fell: bool = False


@dataclass(frozen=True, kw_only=True)
class WarmFan:
    """A fan with all its heat.

    Parameters
    ----------
    name : the fan's. mountings : in the order of their dates. limits : in force.
    contends : whether it contends for the lead in a comparison that was kept.
    repeat : when a mounting ends with its first setting once more: "sample", "always" or "never".
    spread : standard deviation between mountings at equal speed [K].
    is_reference : whether it is the fan that watches the rig: each of its runs is a repeat.
    unregistered : samples without a record, of which airflow's rules don't tell.
    hours : of run-in of the samples of which they don't tell, where written down [s].
    """

    name: str
    mountings: tuple[WarmMounting, ...]
    limits: Limits = Limits()
    contends: bool = False
    repeat: str = "sample"
    spread: float = 0.12
    is_reference: bool = False
    unregistered: tuple[str, ...] = ()
    hours: Mapping[str, float] = field(default_factory=dict)


def step_words(step: HeatStep) -> str:
    """A step as people name it: "step 2 (43 %)"."""
    if step.setting is not None and step.setting_kind in WORDS:
        return f"step {step.number} ({setting_words(step.setting_kind, step.setting)})"
    if step.speed is not None:
        return f"step {step.number} ({step.speed * 60:,.0f} rpm)"
    return f"step {step.number}"
