"""What is true of the heat rig and of its runs. Values in SI."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations

from stillroom.demo.heat.loop import PASTE, USUAL_AIR, Loop, operating
from stillroom.demo.heat.plan import FANS, FULL_SPEED, MODEL, NOMINAL_POWER, HeatPlan
from stillroom.demo.heat.setting_up import SetList, full_setting
from stillroom.demo.sound.truth import AT_LIMIT, TOPS_OUT

TIED_WITHIN, APART = 0.12, (0.8, 1.3)
"""A tie: two models nearer than this [K]; a gap of about 1 K: so far apart."""


@dataclass(frozen=True)
class DeltaTruth:
    """A fan's temperature rise on the rig as it is at the round's end, in the usual air, at nominal power.

    Parameters
    ----------
    sample : empty for the model. condition : "full speed" or "35 dBA".
    reached : as of the limit ("at limit", "tops out", "not so quiet"); "full speed" there.
    speed : [1/s]. flow : per fan [m³/s]. delta : the block over the air [K]. conductance : [W/K].
    """

    fan: str
    sample: str
    condition: str
    reached: str
    speed: float
    flow: float
    delta: float
    conductance: float


@dataclass(frozen=True)
class StepTruth:
    """One setting of a run as it truly was.

    Parameters
    ----------
    setting : in words. noise : for which the set list chose it [dBA], or None. first, last : since the log's start [s].
    speed : [1/s]. flow : per fan [m³/s]. tau : of the rig with it [s]. span : how long it was held, in tau.
    delta : the block over the air, settled, at nominal power, on this occasion [K].
    """

    number: int
    setting: str
    noise: float | None
    first: float
    last: float
    speed: float
    flow: float
    tau: float
    span: float
    delta: float


@dataclass(frozen=True)
class HeatRunTruth:
    """One run: its files relative to the folder, its start (ISO), and its settings."""

    mounting: str
    fan: str
    sample: str
    day: int
    files: tuple[str, ...]
    start: str
    steps: tuple[StepTruth, ...]


@dataclass(frozen=True)
class PlainRise:
    """A fan's place in the ranking of a plain spreadsheet, and its rise at the end of its loudest setting [K]."""

    rank: int
    fan: str
    rise: float


@dataclass(frozen=True)
class HeatTruth:
    """All that is true of the heat rig.

    Parameters
    ----------
    nominal : power [W]. radiator : by its name in the tables. deltas : of models and samples.
    tie : pairs of models that are all but equal under a condition, (condition, fan, fan).
    gap : the same of pairs about 1 K apart, the cooler first.
    offsets : of the probes [K]. plain : the ranking that a plain spreadsheet makes of the same readings.
    """

    nominal: float
    radiator: str
    deltas: tuple[DeltaTruth, ...]
    runs: tuple[HeatRunTruth, ...]
    tie: tuple[tuple[str, str, str], ...]
    gap: tuple[tuple[str, str, str], ...]
    offsets: dict[str, float]
    plain: tuple[PlainRise, ...]

    def delta(self, fan: str, condition: str, sample: str = MODEL) -> DeltaTruth:
        """A fan under a condition.

        Raises
        ------
        LookupError : there is none.
        """
        for each in self.deltas:
            if (each.fan, each.sample, each.condition) == (fan, sample, condition):
                return each
        raise LookupError(f"nothing known of {fan!r} {sample!r} at {condition!r}")

    def run(self, mounting: str) -> HeatRunTruth:
        """A run by its mounting.

        Raises
        ------
        LookupError : there is none.
        """
        for each in self.runs:
            if each.mounting == mounting:
                return each
        raise LookupError(f"no heat run of {mounting!r}")


def delta_truths(sets: SetList, plan: HeatPlan) -> Iterator[DeltaTruth]:
    """Every model on the rig and every sample that was run, at full speed and at the limits."""
    known = [(fan, MODEL) for fan in sorted({each.fan for each in plan.runs})]
    known += sorted({(each.fan, each.sample) for each in plan.runs})
    loop = Loop(sets.radiator, FANS, extra=-PASTE if plan.paste_day else 0.0)
    for name, sample in known:
        fan = sets.models[name] if sample == MODEL else sets.samples[name, sample]
        flow, speed = operating(fan, sets.radiator, fan.free_speed(full_setting(fan)), USUAL_AIR)
        yield _delta(loop, (name, sample), FULL_SPEED, FULL_SPEED, flow, speed)
        for at in sets.limits(name, sample):
            flow, speed = operating(fan, sets.radiator, at.speed, USUAL_AIR, held=True)
            yield _delta(loop, (name, sample), f"{at.limit:g} dBA", at.reached, flow, speed)


def _delta(
    loop: Loop, of: tuple[str, str], condition: str, reached: str, flow: float, speed: float
) -> DeltaTruth:
    delta = loop.rise(NOMINAL_POWER, flow, USUAL_AIR.density)
    return DeltaTruth(*of, condition, reached, speed, flow, delta, NOMINAL_POWER / delta)


def near_pairs(deltas: Iterable[DeltaTruth], low: float, high: float) -> Iterator[tuple[str, str, str]]:
    """Pairs of models whose rises differ by [low, high) K under the same condition, the cooler first."""
    models = [
        each for each in deltas if each.sample == MODEL and each.reached in {FULL_SPEED, TOPS_OUT, AT_LIMIT}
    ]
    for one, other in combinations(models, 2):
        if one.condition == other.condition and low <= abs(one.delta - other.delta) < high:
            first, second = sorted((one, other), key=lambda each: each.delta)
            yield one.condition, first.fan, second.fan
