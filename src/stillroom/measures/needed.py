"""The speed that a fan needs for an airflow."""

from __future__ import annotations

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part, pressure_coefficients
from stillroom.core.fanlaws import disc_area
from stillroom.core.mounted import MeasuredObstacle, MountedFan
from stillroom.core.operating import operating_points
from stillroom.core.room_air import STANDARD_AIR
from stillroom.core.row_speeds import BEYOND
from stillroom.core.systems import Load, arranged
from stillroom.errors import NotPossible
from stillroom.measures.found import SLACK, Found, Sought, reach_of, with_strays
from stillroom.measures.value import (
    Condition,
    MeasuredValue,
    load_in,
    reynolds_marks,
    sources_of,
    system_marks,
    valued,
)

SETTLES = 3
"""How often the Reynolds number is taken anew; ψ goes with its power of some hundredths."""


def needed_speed(
    fan: MountedFan,
    obstacle: Load | MeasuredObstacle | None,
    condition: Condition,
    *,
    greatest_is_full: bool = True,
) -> MeasuredValue:
    """The least speed at which a mounted fan has the airflow of a condition at its operating point.

    Parameters
    ----------
    fan, obstacle : as of `evaluate`. condition : with `for_flow`, of the whole system.
    greatest_is_full : whether the greatest setting of the sweeps is the fan's full setting.

    Raises
    ------
    NotPossible : no airflow given; it needs a speed that the fan doesn't have, or that was not tested.
    """
    if condition.for_flow is None:
        raise NotPossible("speed needed", found="no airflow", expected="--for-flow, such as '60 m³/h'")
    load = load_in(obstacle, condition.system)
    sources = sources_of(fan, load, condition.system)
    speed = float(np.sqrt(fan.speeds[0] * fan.speeds[1]))
    for _ in range(SETTLES):
        speed = float(_solved(fan, load, condition, Part.CENTRAL, sources, speed).values[0])
    total, shared = (
        _solved(fan, load, condition, part, sources, speed) for part in (Part.TOTAL, Part.SHARED)
    )
    marks = _within(fan, condition, speed, greatest_is_full=greatest_is_full)
    system = condition.system
    curve = fan.at_flow(condition.for_flow / system.beside, Part.CENTRAL, (), speed=speed, air=system.air)
    return valued(total, shared, sources, (*marks, *system_marks(system), *reynolds_marks(curve)))


def _solved(
    fan: MountedFan,
    load: Load | None,
    condition: Condition,
    part: Part,
    sources: tuple[str, ...],
    speed: float,
) -> Found:
    """The speed in every row, ψ(φ) taken at the Reynolds number of `speed` [1/s]."""
    system, flow = condition.system, condition.for_flow or 0.0
    one = fan.at_flow(flow / system.beside, part, sources, speed=speed, air=system.air)
    curve = arranged(one, system, part, sources)
    drop: Array = np.zeros((1, 1))
    if load is not None and load.stacks:
        drop = load.drop(curve.flow[:, :1], part, sources)
    k = len(sources) if part is not Part.CENTRAL else 0
    points = operating_points(curve.phi, curve.pressure, drop, reach=reach_of(curve), sources=k)
    sought = Sought(
        f"airflow {flow * 3600:.4g} m³/h",
        f"its last reading lies at φ = {reach_of(curve)[1]:.3g}",
        "a reading at a greater flow",
    )
    phi = with_strays(points.flow, points.missing, float(curve.phi[-1]), sought, 1 + k)
    values = flow / system.beside / (phi * float(disc_area(fan.diameter)) * np.pi * fan.diameter)
    beyond = load is not None and bool(load.stacks) and load.is_beyond(flow, SLACK)
    return Found(
        values,
        values,
        values,
        extrapolated=beyond or not bool(points.inside[0]),
        rising=_rises(fan, float(phi[0]), speed),
    )


def _rises(fan: MountedFan, phi: float, speed: float) -> bool:
    """Whether the fan's pressure at one speed rises with flow at φ."""
    at = np.array([phi * 0.999, phi * 1.001])
    reynolds = np.pi * speed * fan.diameter**2 / (STANDARD_AIR.viscosity / STANDARD_AIR.density)
    psi = pressure_coefficients(fan.characteristic, at, float(reynolds), part=Part.CENTRAL)[0]
    return bool(psi[1] > psi[0])


def _within(
    fan: MountedFan, condition: Condition, speed: float, *, greatest_is_full: bool
) -> tuple[str, ...]:
    """What must be said of the speed; refused where the fan doesn't have it."""
    low, high = fan.speeds
    flow = (condition.for_flow or 0.0) * 3600
    if speed > high * (1.0 + (0.005 if greatest_is_full else BEYOND)):
        why = "its full speed" if greatest_is_full else "the greatest speed tested"
        raise NotPossible(
            f"airflow {flow:.4g} m³/h",
            found=f"it needs {speed * 60:,.0f} rpm, more than {why}, {high * 60:,.0f} rpm",
            expected="a smaller airflow",
        )
    if speed < low * (1.0 - BEYOND):
        raise NotPossible(
            f"airflow {flow:.4g} m³/h",
            found=f"it needs {speed * 60:,.0f} rpm, less than the least speed tested, {low * 60:,.0f} rpm",
            expected="a greater airflow",
        )
    if low * 0.995 <= speed <= high * 1.005:
        return ()
    return (f"modelled: airflow tested from {low * 60:,.0f} to {high * 60:,.0f} rpm",)
