"""The limits of the rules of quality: each with its usual value; a lab may set its own in lab.toml.

Every limit is "the larger of the stated one and twice the standard uncertainty": a rule adds what its
readings allow to be told.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any


def _limit(usual: float, rule: int, words: str, unit: str = "1") -> Any:
    metadata = {"rule": rule, "words": words, "unit": unit, "shown": "%" if unit == "1" else unit}
    return dataclasses.field(default=usual, metadata=metadata)


@dataclass(frozen=True)
class Limits:
    """The limits in force, shares as numbers between 0 and 1, the rest in the unit that `told_of` names."""

    calibrator_drift: float = _limit(0.5, 5, "calibrator before against after", "dB")
    background_near: float = _limit(10.0, 6, "fan above the background from which on nothing is marked", "dB")
    background_change: float = _limit(2.0, 9, "background before against after", "dB")
    background_change_near: float = _limit(1.0, 9, "the same where the fan is less than 10 dB above it", "dB")
    averaging_time: float = _limit(30.0, 10, "averaging time of a dwell from which on nothing is marked", "s")
    least_averaging_time: float = _limit(8.0, 10, "least averaging time of a dwell", "s")
    rejected: float = _limit(0.20, 11, "share of a recording's seconds left out as transients")
    burst: float = _limit(3.0, 11, "level exceeded 1 % of the time over the median", "dB")
    microphone_distance: float = _limit(0.02, 12, "distance of the microphone from the method's", "m")
    microphone_angle: float = _limit(5.0, 12, "angle of the microphone from the method's", "°")
    limit_step: float = _limit(1.5, 16, "dwells next to a noise limit, in level", "dB")
    limit_speed_step: float = _limit(50.0, 16, "dwells next to a noise limit, in speed", "rpm")
    limit_bracket: float = _limit(2.0, 17, "levels on both sides of a noise limit", "dB")
    speed_unsteady: float = _limit(0.005, 19, "coefficient of variation of the speed over a point")
    slow_speed_unsteady: float = _limit(0.01, 19, "the same below 600 rpm")
    speed_drift: float = _limit(0.01, 19, "change of speed over a sweep beyond what its load explains")
    optical_speed: float = _limit(0.005, 20, "tachometer against optical tachometer")
    heard_speed: float = _limit(0.005, 20, "tachometer against the speed that is heard")
    supply_voltage: float = _limit(0.1, 21, "supply from 12 V", "V")
    pwm_frequency_low: float = _limit(21e3, 21, "least frequency of the control signal", "Hz")
    pwm_frequency_high: float = _limit(28e3, 21, "greatest frequency of the control signal", "Hz")
    nozzle_pressure: float = _limit(25.0, 22, "least pressure across a nozzle", "Pa")
    nozzle_resolutions: float = _limit(20.0, 22, "the same in steps of its gauge", "steps")
    nozzle_pattern: float = _limit(0.015, 24, "flow of one nozzle pattern against another")
    leak: float = _limit(0.01, 25, "leak, of the greatest flow or of the smallest published")
    leak_test_age: float = _limit(30.0, 25, "age of the chamber's leak test", "d")
    zero_drift: float = _limit(0.2, 26, "drift of a pressure zero over a run", "Pa")
    hunting: float = _limit(0.02, 27, "coefficient of variation of pressure or flow over a point")
    points: float = _limit(8.0, 28, "points of a sweep", "points")
    points_with_hump: float = _limit(10.0, 28, "the same where the curve has a hump", "points")
    gap: float = _limit(0.15, 28, "greatest gap between points, of the greatest flow")
    end: float = _limit(0.10, 28, "farthest first or last point from its end")
    collapse: float = _limit(0.03, 29, "flow or pressure against the fan's one curve")
    heat_law: float = _limit(0.02, 29, "temperature rise against what the airflow says on the heat rig")
    speed_correction: float = _limit(0.03, 30, "correction of a point to its sweep's nominal speed")
    density: float = _limit(0.05, 31, "density from 1.2 kg/m³")
    obstacle_age: float = _limit(183.0, 33, "age of an obstacle's curve", "d")
    remaining: float = _limit(0.1, 34, "what a step on the heat rig still has to move", "K")
    air_drift: float = _limit(0.5, 35, "drift of the air going in over the time that is averaged", "K")
    air_spread: float = _limit(0.5, 35, "difference between the probes of the air going in", "K")
    air_low: float = _limit(18.0, 35, "least temperature of the air going in", "°C")
    air_high: float = _limit(26.0, 35, "greatest temperature of the air going in", "°C")
    heater_sd: float = _limit(0.005, 36, "standard deviation of the heater's power")
    heater_mean: float = _limit(0.01, 36, "heater's power from nominal, where nothing brings the rise to it")
    heat_balance: float = _limit(0.05, 37, "heat by the liquid against the heat put in")
    heat_balance_shift: float = _limit(0.02, 37, "the same against the reference day")
    coolant_flow: float = _limit(0.02, 38, "coolant's flow from what is set")
    coolant_age: float = _limit(183.0, 38, "age of the coolant, above which it marks; twice that blocks", "d")
    repeat: float = _limit(0.01, 39, "repeat of the first setting, flow")
    repeat_level: float = _limit(0.5, 39, "repeat of the first setting, level", "dB")
    repeat_heat: float = _limit(0.15, 39, "repeat of the first setting, temperature rise", "K")
    mountings: float = _limit(2.0, 40, "mountings of a published figure", "mountings")
    contender_mountings: float = _limit(3.0, 40, "the same of a contender for the lead", "mountings")
    replicates: float = _limit(
        2.8, 41, "mountings of one sample, in repeatability standard deviations", "s_r"
    )
    box_claim: float = _limit(0.10, 42, "measured against the box")
    run_in: float = _limit(1.0, 43, "hours of run-in", "h")
    warm_up: float = _limit(5.0, 43, "minutes at a setting before its first point", "min")
    static_efficiency: float = _limit(0.45, 44, "greatest static efficiency")
    start_attempts: float = _limit(10.0, 51, "start attempts at one setting", "attempts")
    clock_skew: float = _limit(2.0, 52, "clocks of two loggers", "s")

    def changed(self) -> dict[str, tuple[float, float]]:
        """{name: (in force, usual)} of the limits that the lab has set otherwise."""
        usual = Limits()
        pairs = ((name, getattr(self, name), getattr(usual, name)) for name in names())
        return {name: (mine, theirs) for name, mine, theirs in pairs if mine != theirs}


def names() -> tuple[str, ...]:
    """The limits by name, as lab.toml has them."""
    return tuple(each.name for each in dataclasses.fields(Limits))


@dataclass(frozen=True)
class Told:
    """What is told of one limit: the rule it belongs to, its words, its unit, and the unit it is shown in."""

    name: str
    rule: int
    words: str
    unit: str
    shown: str
    usual: float

    def text(self, value: float) -> str:
        """A value of it as people read it."""
        if self.shown == "%":
            return f"{100 * value:g} %"
        return f"{value:g} {self.shown}"


def told_of(name: str) -> Told:
    """What is told of a limit."""
    field = next(each for each in dataclasses.fields(Limits) if each.name == name)
    assert isinstance(field.default, float)
    told = field.metadata
    return Told(name, told["rule"], told["words"], told["unit"], told["shown"], field.default)


def all_told() -> Iterator[Told]:
    """What is told of each limit, in the order of the rules."""
    return (told_of(each) for each in names())
