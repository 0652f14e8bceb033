"""Plays a heat run: what truly happens on the rig second by second, and what its probes and meters read of it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.demo.air import Air
from stillroom.demo.bench import room_air
from stillroom.demo.calendar import day_name
from stillroom.demo.draws import Draws
from stillroom.demo.fan import SUPPLY, Control, Fan
from stillroom.demo.heat.loggers import SUPPLIED
from stillroom.demo.heat.loop import PASTE, SET_FLOW, Loop, operating
from stillroom.demo.heat.plan import FANS, NOMINAL_POWER, Bath, HeatPlan, HeatRun
from stillroom.demo.heat.probes import AIRS, BATH_SD, PROBES, Meters
from stillroom.demo.heat.setting_up import Chosen, SetList
from stillroom.demo.heat.wander import correlated, slow

Array = NDArray[np.float64]

FROM_COLD, AGAIN = 1.6, -0.8
"""How many time constants longer the first setting is held, and the repeated one."""
MOUNTING_SD, DAY_SD = 0.11, 0.10
"""Spread of the temperature rise between mountings and between days, at nominal power [K]."""
FAN_SD = 0.004
"""Spread of a mounted fan's k_q and k_p."""
LOST_A_MONTH = 0.01
"""Share of its flow that the loop loses a month."""
HEATER = 176.0
"""The heater's resistance [Ω]."""
STRAY, AIR_RATE = 0.35, 45.0
"""A stray probe shows this share of what the air is warmed by; the usual heat capacity of the air's flow [W/K]."""
_BEGIN = 24.0
"""The log begins before the heater is switched on [s]."""


@dataclass(frozen=True)
class Held:
    """One setting of a run as it truly was.

    Parameters
    ----------
    first, last : since the log's beginning [s]. speed : [1/s]. flow : per fan [m³/s]. tau : [s].
    delta : the block over the air, settled at nominal power, on this occasion [K].
    """

    chosen: Chosen
    first: float
    last: float
    speed: float
    flow: float
    tau: float
    delta: float


@dataclass(frozen=True)
class Played:
    """A run as it was logged: `times` since its beginning [s], readings in SI by quantity, and what was true."""

    times: Array
    read: dict[str, Array]
    held: tuple[Held, ...]
    power: Array
    loop: Loop


@dataclass(frozen=True)
class Rig:
    """The heat rig in its round: hidden errors, set list, plan."""

    seed: int
    meters: Meters
    sets: SetList
    plan: HeatPlan

    def loop(self, run: HeatRun) -> Loop:
        """The loop on the occasion of a run."""
        first = self.plan.runs[0].day
        aged = LOST_A_MONTH * (run.day - first) / 21 + self.plan.flow.get(run.day, 0.0)
        day = Draws(self.seed, f"heat rig {day_name(run.day)}").normal(DAY_SD)
        own = Draws(self.seed, f"heat mounting {run.name}").normal(MOUNTING_SD)
        renewed = bool(self.plan.paste_day) and run.day >= self.plan.paste_day
        extra = (day + own) / NOMINAL_POWER - (PASTE if renewed else 0.0)
        return Loop(self.sets.radiator, FANS, SET_FLOW * (1 - aged), extra)

    def mounted(self, run: HeatRun) -> Fan:
        """The sample as it was mounted."""
        draws = Draws(self.seed, f"mounted on the heat rig {run.name}")
        sample = self.sets.samples[run.fan, run.sample]
        return sample.varied(k_q=draws.near_one(FAN_SD), k_p=draws.near_one(FAN_SD))


def play_run(rig: Rig, run: HeatRun) -> Played:
    """A run from its first row to its last."""
    fan, loop = rig.mounted(run), rig.loop(run)
    air = room_air(rig.seed, run.day, f"heat {run.name}")
    chosen = rig.sets.settings(run.fan, run.limits)
    if run.again:
        chosen = (*chosen, chosen[0])
    held = tuple(_held(run, fan, loop, chosen, air))
    times = np.arange(0.0, held[-1].last + run.interval / 2, run.interval)
    place = np.clip(np.searchsorted([each.first for each in held], times, side="right") - 1, 0, None)
    ambient = _ambient(rig.seed, run, times, held, air.temperature)
    power = _power(rig.seed, run, times)
    k = np.asarray([loop.conductance(each.flow, air.density) for each in held])[place]
    warm = air.temperature + Draws(rig.seed, f"start {run.name}").between(2.0, 5.0)
    block, liquid = loop.settle((warm, warm), power, ambient, k, run.interval)
    gone = k * (liquid - ambient) / loop.liquid_rate
    read = _temperatures(rig.meters, run, block, liquid, liquid - gone, ambient, k)
    read |= _electrical(rig.meters, run, fan, power, held, place, air.density)
    read["liquid_flow"] = rig.meters.read("liquid_flow", np.full_like(times, loop.flow), run.name)
    read["relative_humidity"] = air.humidity + slow(
        rig.seed, f"humidity {run.name}", times, 0.006, (6e3, 15e3)
    )
    read["barometric_pressure"] = air.pressure + slow(rig.seed, f"baro {run.name}", times, 12.0, (9e3, 2e4))
    return Played(times, read, held, power, loop)


def play_bath(rig: Rig, bath: Bath) -> tuple[Array, dict[str, Array]]:
    """All probes in one bath: times [s] and readings [K]."""
    times = np.arange(0.0, bath.minutes * 60 + 1, bath.interval)
    true = bath.temperature + slow(rig.seed, "bath", times, 0.01, (900.0, 3000.0))
    even = {probe: Draws(rig.seed, f"bath {probe}").normal(BATH_SD) for probe in PROBES}
    read = {p: rig.meters.temperature(p, true + even[p], "bath", bath.interval) for p in PROBES}
    return times, read


def _held(run: HeatRun, fan: Fan, loop: Loop, chosen: Sequence[Chosen], air: Air) -> Iterator[Held]:
    """The settings one after the other, each as long as the rig needs with it."""
    first = _BEGIN
    for number, each in enumerate(chosen):
        flow, speed = operating(fan, loop.radiator, fan.free_speed(each.setting), air)
        tau = loop.tau(loop.conductance(flow, air.density))
        last_one = number == len(chosen) - 1
        long = run.hold + (FROM_COLD if number == 0 else AGAIN if run.again and last_one else 0.0)
        if run.wrong.cut and last_one:
            long = run.wrong.cut
        last = first + math.ceil(long * tau / run.interval) * run.interval
        yield Held(each, first, last, speed, flow, tau, loop.rise(NOMINAL_POWER, flow, air.density))
        first = last


def _ambient(seed: int, run: HeatRun, times: Array, held: Sequence[Held], usual: float) -> Array:
    """The air before the radiator: it wanders; a door that is opened lets cold air in for a minute."""
    air = usual + slow(seed, f"ambient {run.name}", times, 0.055, (7200.0, 18000.0))
    if run.wrong.door:
        opened = (held[0].first + held[0].last) / 2
        since = times - opened
        air -= np.where(
            since > 0, 1.6 * (1 - np.exp(-since / 8)) * np.exp(-np.maximum(since - 40, 0) / 15), 0.0
        )
    return air


def _power(seed: int, run: HeatRun, times: Array) -> Array:
    """The heater's power: switched on after the log's beginning, set each day, moved by the mains."""
    off = Draws(seed, f"heater {run.name}").normal(0.003)
    share = 1 + off + slow(seed, f"mains {run.name}", times, 0.0012, (4000.0, 12000.0))
    if run.wrong.load:
        share += run.wrong.load * correlated(seed, f"load {run.name}", len(times), run.interval, 150.0)
    return np.asarray(np.where(times >= _BEGIN, NOMINAL_POWER * share, 0.0))


def _temperatures(
    meters: Meters, run: HeatRun, block: Array, liquid: Array, returned: Array, ambient: Array, k: Array
) -> dict[str, Array]:
    true = {"hot_temperature": block, "liquid_in_temperature": liquid, "liquid_out_temperature": returned}
    for probe in AIRS:
        local = 0.02 * correlated(meters.seed, f"{probe} draught {run.name}", len(block), run.interval, 25.0)
        true[probe] = ambient + meters.layers[probe] + local
    if run.wrong.stray:
        since, until = run.wrong.stray
        times = np.arange(len(block)) * run.interval
        warmed = STRAY * k * (liquid - ambient) / AIR_RATE
        true[AIRS[1]] = true[AIRS[1]] + np.where((times >= since) & (times < until), warmed, 0.0)
    return {p: meters.temperature(p, each, run.name, run.interval) for p, each in true.items()}


def _electrical(
    meters: Meters,
    run: HeatRun,
    fan: Fan,
    power: Array,
    held: Sequence[Held],
    place: NDArray[np.intp],
    density: float,
) -> dict[str, Array]:
    """Heater and fans; the meter lies in the lead of all fans on the radiator."""
    volts = np.sqrt(power * HEATER)
    is_volts = fan.control is Control.VOLTS
    supply = [each.chosen.setting.value if is_volts else SUPPLY for each in held]
    watts = [fan.power(each.flow / fan.flow(1.0, each.speed), each.speed, density) for each in held]
    true = {
        "heater_voltage": volts,
        "heater_current": volts / HEATER,
        "speed": np.asarray([each.speed for each in held])[place] * run.wrong.pulses,
        "voltage": np.asarray(supply)[place],
        "current": FANS * np.asarray([w / u for w, u in zip(watts, supply, strict=True)])[place],
    }
    found = {quantity: meters.read(quantity, each, run.name) for quantity, each in true.items()}
    if is_volts:
        found[SUPPLIED] = true["voltage"]
    else:
        found["duty"] = np.asarray([each.chosen.setting.value / 100 for each in held])[place]
    return found
