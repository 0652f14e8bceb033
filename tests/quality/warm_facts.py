"""Facts of a made fan's heat: runs in which nothing is wrong, to be changed in one thing."""

from __future__ import annotations

from dataclasses import replace

from stillroom.core.heat.heat_curve import fit_heat
from stillroom.core.heat.heat_mounting import HeatStep, StepHow, heat_points
from stillroom.quality import Finding
from stillroom.quality.heat import ClockFacts, ExpectedSpeed, WarmFan, WarmMounting, check_heat

TAU = 300.0
DUTIES = (0.45, 0.60, 0.80, 0.45)
"""The quietest first, as the set list has it, and once more at the end."""

HOUR = 3600.0


def rise_at(speed: float) -> float:
    """Rise of the made fan at a speed [1/s] over the air [K]: 16 K at 1,000 rpm."""
    return 16.0 * (speed * 60.0 / 1000.0) ** -0.5


def step(number: int, duty: float, **changed: object) -> HeatStep:
    """A step in which nothing is wrong."""
    speed = duty * 2200.0 / 60.0
    rise = rise_at(speed)
    made = HeatStep(
        number=number,
        first=(number - 1) * 2100.0,
        last=number * 2100.0 - 1.0,
        moment=f"2026-03-04T{9 + number:02}:00:00",
        setting_kind="duty",
        setting=duty,
        noise=None,
        speed=speed,
        u_speed=0.01,
        hot=296.0 + rise,
        air=296.0,
        delta=rise,
        delta_nominal=rise,
        u_own=0.015,
        power=300.0,
        power_sd=0.4,
        nominal=300.0,
        conductance=300.0 / rise,
        how=StepHow.STEADY,
        steadiness={"slope": 1e-5, "tau": TAU},
        forecast={"final": rise, "u": 0.02, "amplitude": -2.0, "tau": TAU, "start": 0.0, "end": 2100.0},
        tau=TAU,
        span=7.0,
        air_spread=0.15,
        air_drift=0.05,
        liquid_flow=2.52e-5,
        balance=0.975,
        u_balance=0.03,
        pump_heat=4.0,
        fan_power=0.2 * (speed / 10.0) ** 2,
        speed_sd=0.001 * speed,
        tachometer=speed,
    )
    return replace(made, **changed)  # type: ignore[arg-type]


def mounting(name: str = "fan-07-s1-h1", **changed: object) -> WarmMounting:
    """A mounting in which nothing is wrong; `steps` in place of its own four."""
    steps = changed.pop("steps", tuple(step(i, duty) for i, duty in enumerate(DUTIES, 1)))
    made = WarmMounting(
        name=name,
        fan="fan-07",
        sample="s1",
        rig="heat-1",
        radiator="rad27",
        date="2026-03-04",
        judged=f"key of {name}",
        blocked_as=f"heat of {name}",
        file=f"{name}.csv",
        steps=steps,  # type: ignore[arg-type]
        clocks=(
            ClockFacts("temperature logger", "same clock"),
            ClockFacts("power logger", "shared edge", offset=0.6, u=1.0, edges=3),
            ClockFacts("room logger", "not aligned", u=None, is_paired=False),
        ),
        liquid_flow=2.5e-5,
        coolant_age=30 * 24 * HOUR,
        airflows={1: 0.02, 2: 0.026, 3: 0.035, 4: 0.02},
        speeds={
            i: ExpectedSpeed(duty * 2200.0 / 60.0 * 1.02, "the box says") for i, duty in enumerate(DUTIES, 1)
        },
    )
    made = replace(made, **changed)  # type: ignore[arg-type]
    points = heat_points(made.steps)
    return replace(made, curve=fit_heat(points, identity=name, sources={}, trials=20) if points else None)


def changed_steps(which: tuple[int, ...] = (1, 2, 3, 4), **changed: object) -> tuple[HeatStep, ...]:
    """The usual four steps, some of them changed in one thing."""
    return tuple(step(i, duty, **(changed if i in which else {})) for i, duty in enumerate(DUTIES, 1))


def fan(*mountings: WarmMounting, **changed: object) -> WarmFan:
    """A fan; with two mountings in which nothing is wrong where none is given."""
    several = mountings or (mounting(), mounting("fan-07-s1-h2", date="2026-03-06"))
    return replace(WarmFan(name="fan-07", mountings=several), **changed)  # type: ignore[arg-type]


def found(*mountings: WarmMounting, rule: int, **changed: object) -> list[Finding]:
    """What one rule finds."""
    return [each for each in check_heat(fan(*mountings, **changed)) if each.rule == rule]


def the(*mountings: WarmMounting, rule: int, **changed: object) -> Finding:
    """The only finding of a rule."""
    (one,) = found(*mountings, rule=rule, **changed)
    return one
