"""One sweep on a rig: from a mounted fan, a duty and the day's air to rows of readings.

A row holds values in SI by quantity, and under `nozzles` the list that the operator typed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from stillroom.demo.air import Air
from stillroom.demo.bench import Chamber, Disturbance, least_flow, moved_zero
from stillroom.demo.draws import Draws
from stillroom.demo.fan import PWM_FREQUENCY, SUPPLY, Control, Fan, Obstacle, Setting

POINTS = 12
SECONDS_PER_POINT = 60
LOWEST_OPENING = 0.06


@dataclass(frozen=True)
class Row:
    """One point: readings in SI by quantity, and the nozzles as listed ("N12+N25", "none" or "")."""

    values: dict[str, float]
    nozzles: str = ""


@dataclass(frozen=True)
class Occasion:
    """Where and when a sweep is made.

    Parameters
    ----------
    name : its identity ("Bracken-s1-m1 100pct").
    day : working day of the round; the day's zero of the pressure gauge depends on it.
    air : of the room at its start.
    stagger : how far the throttle settings are moved along, 0 to 1.
    points : readings of the sweep.
    down : whether it begins at free delivery and ends at shut-off.
    nozzle_factor : what the nozzle gauge shows over what it would have shown on the round's first day.
    frequency : of the PWM generator [Hz].
    """

    name: str
    day: int
    air: Air
    stagger: float
    points: int = POINTS
    down: bool = False
    nozzle_factor: float = 1.0
    frequency: float = PWM_FREQUENCY


def openings(fan: Fan, speed: float, occasion: Occasion, fault: Disturbance) -> list[float]:
    """The openings q of a sweep's points, from as good as shut off to free delivery."""
    air = occasion.air
    first = _shut(fan, speed, air, fault.leak)
    low = max(LOWEST_OPENING, first + LOWEST_OPENING)
    while _through_nozzles(fan, low, speed, air, fault.leak) < least_flow(fault.plugged):
        low += 0.004
    inner = occasion.points - 2
    steps = [low + (1 - low) * (i + 0.8 * occasion.stagger) / (inner + 0.5) for i in range(inner)]
    return [first, *steps, 1.0]


def fan_sweep(
    chamber: Chamber, fan: Fan, setting: Setting, occasion: Occasion, fault: Disturbance
) -> Iterator[Row]:
    """A sweep of a mounted fan at one setting in the chamber, shut-off first unless it goes down."""
    free_speed = fan.free_speed(setting, occasion.frequency)
    steps = list(enumerate(openings(fan, fan.loaded_speed(free_speed, 0.0), occasion, fault)))
    supply = SUPPLY if setting.control is Control.DUTY else setting.value
    for i, (place, q) in enumerate(reversed(steps) if occasion.down else steps):
        draws, along = Draws(chamber.seed, f"{occasion.name} {i}"), i / (occasion.points - 1)
        now = _drifted(occasion.air, draws)
        zero = moved_zero(chamber.seed, occasion.day) + fault.zero_drift * along
        shown_speed = fan.loaded_speed(free_speed, q)
        speed = shown_speed * (1 - fault.slowing * along)
        pressure = fan.pressure(q, speed, now.density)
        flow = _through_nozzles(fan, q, speed, now, fault.leak)
        shown = chamber.read("static_pressure", pressure, draws, zero) * fault.pressure_factor
        values = {"time": float(i * SECONDS_PER_POINT), "static_pressure": shown, "nozzle_pressure": 0.0}
        listed = "none"
        if place > 0:
            names, drop = chamber.across(flow, now, pressure, fault)
            values["nozzle_pressure"] = chamber.read("nozzle_pressure", drop * occasion.nozzle_factor, draws)
            listed = "+".join(names)
        values |= _room(chamber, now, draws)
        values["speed"] = chamber.read("speed", shown_speed, draws) * fault.speed_factor
        values["voltage"] = chamber.read("voltage", supply, draws)
        current = fan.power(q, speed, now.density) / supply
        values["current"] = chamber.read("current", current, draws)
        yield Row(values | _set(setting, occasion), listed)


def _set(setting: Setting, occasion: Occasion) -> dict[str, float]:
    """What the speed control shows of itself."""
    if setting.control is Control.VOLTS:
        return {}
    return {"duty": setting.value / 100, "pwm_frequency": occasion.frequency}


def obstacle_sweep(chamber: Chamber, obstacle: Obstacle, occasion: Occasion, largest: float) -> Iterator[Row]:
    """A sweep of an obstacle: the blower draws room air through it, then through the nozzles.

    The chamber lies below the room's pressure by what the obstacle takes.
    """
    zero = moved_zero(chamber.seed, occasion.day)
    count = 14
    for i in range(count):
        draws = Draws(chamber.seed, f"{occasion.name} {i}")
        now = _drifted(occasion.air, draws)
        flow = largest * (0.08 + 0.92 * i / (count - 1))
        drop = obstacle.drop(flow, now)
        names = chamber.open_set(flow, "")
        across = chamber.drop(flow, names, now, -drop) * occasion.nozzle_factor
        values = {
            "time": float(i * SECONDS_PER_POINT),
            "resistance_pressure": chamber.read("static_pressure", drop, draws, zero),
            "nozzle_pressure": chamber.read("nozzle_pressure", across, draws),
        }
        yield Row(values | _room(chamber, now, draws), "+".join(names))


DUCT_ACCURACY = 0.03
"""What the simple rig states of itself: ± 3 % of reading, taken as two standard deviations."""


def duct_sweep(
    seed: int, fan: Fan, setting: Setting, occasion: Occasion, fault: Disturbance
) -> Iterator[Row]:
    """A sweep on the simple rig, which shows flow, pressure and speed only."""
    rig = Draws(seed, "rig duct")
    flow_gain, pressure_gain = rig.near_one(DUCT_ACCURACY / 2), rig.near_one(DUCT_ACCURACY / 2)
    free_speed, air = fan.free_speed(setting), occasion.air
    for i, q in enumerate(openings(fan, free_speed, occasion, fault)):
        draws = Draws(seed, f"{occasion.name} {i}")
        speed = fan.loaded_speed(free_speed, q)
        yield Row(
            {
                "time": float(i * SECONDS_PER_POINT),
                "flow": fan.flow(q, speed) * flow_gain * draws.near_one(0.006) * fault.flow_factor,
                "static_pressure": fan.pressure(q, speed, air.density) * pressure_gain * draws.near_one(0.006)
                + draws.normal(0.08),
                "speed": speed * draws.near_one(0.001),
            }
            | _set(setting, occasion)
        )


def _shut(fan: Fan, speed: float, air: Air, leak: float) -> float:
    """The opening q at which a fan stands when all nozzles are closed: what the leak lets through."""
    if leak == 0.0:
        return 0.0
    low, high = 0.0, 1.0
    for _ in range(50):
        middle = (low + high) / 2
        if _through_nozzles(fan, middle, speed, air, leak) < 0:
            low = middle
        else:
            high = middle
    return high


def _through_nozzles(fan: Fan, q: float, speed: float, air: Air, leak: float) -> float:
    """Flow of room air [m³/s] that reaches the nozzles: the fan's less what leaks out of the chamber."""
    pressure = max(0.0, fan.pressure(q, speed, air.density))
    return fan.flow(q, speed) - leak * math.sqrt(2 * pressure / air.density)


def _drifted(air: Air, draws: Draws) -> Air:
    return Air(
        air.pressure + draws.normal(4.0),
        air.temperature + draws.normal(0.03),
        air.humidity + draws.normal(0.002),
    )


def _room(chamber: Chamber, air: Air, draws: Draws) -> dict[str, float]:
    return {
        "barometric_pressure": chamber.read("barometric_pressure", air.pressure, draws),
        "temperature": chamber.read("temperature", air.temperature, draws),
        "relative_humidity": chamber.read("relative_humidity", air.humidity, draws),
    }
