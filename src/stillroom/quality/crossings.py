"""Rules on operating points: where a fan's curve meets the obstacles that it is compared through."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.deviation import central
from stillroom.core.fanlaws import STANDARD_DENSITY, disc_area
from stillroom.core.resistance import pressure_drop, scaled
from stillroom.core.room_air import STANDARD_VISCOSITY
from stillroom.quality.facts import FanFacts, MountingFacts, ObstacleFacts, RunFacts
from stillroom.quality.finding import Finding
from stillroom.quality.repeats import stalled_region
from stillroom.quality.rules import Severity
from stillroom.quality.saying import about_fan, about_mounting, listed
from stillroom.records.keys import key_of

GRID = 300
NEAR_SADDLE = 0.10
"""An operating point this near to the saddle's hump, in flow, may fall into it, relative."""

SLACK = 0.02
"""So far beyond the readings a root still counts as read, relative."""


@dataclass(frozen=True)
class Crossing:
    """Where a mounting's curve at full setting meets an obstacle.

    Parameters
    ----------
    flows : all roots, rising [m³/s]. reach : flows that the fan's readings cover [m³/s].
    saddle : flows from the valley to the hump of the saddle [m³/s], None where there is none.
    """

    flows: tuple[float, ...]
    reach: tuple[float, float]
    saddle: tuple[float, float] | None


def crossing(mounting: MountingFacts, obstacle: ObstacleFacts) -> Crossing | None:
    """The operating points at full setting, by the central curves; None where one of them is missing."""
    curve, resistance, run = mounting.curve, obstacle.resistance, _full(mounting)
    if curve is None or resistance is None or run is None or run.speed is None:
        return None
    phi = np.linspace(0.0, 1.15 * curve.reach[1], GRID)
    order = np.argsort(run.phi)
    speed = np.interp(phi, run.phi[order], run.speed[order])
    tip = np.pi * mounting.diameter * speed
    flow = phi * disc_area(mounting.diameter) * tip
    psi = central(curve, phi, float(np.median(run.reynolds)))
    pressure = psi * 0.5 * STANDARD_DENSITY * tip**2
    parameters = scaled(resistance.law, resistance.central[None, :], STANDARD_DENSITY / obstacle.density,
                        STANDARD_VISCOSITY / obstacle.viscosity)  # fmt: skip
    surplus = pressure - pressure_drop(resistance.law, parameters, flow)[0]
    saddle = stalled_region(curve)
    ends = tuple(float(np.interp(each, phi, flow)) for each in (*curve.reach, *(saddle or ())))
    return Crossing(_roots(flow, surplus), (ends[0], ends[1]), (ends[2], ends[3]) if saddle else None)


def _full(mounting: MountingFacts) -> RunFacts | None:
    """The sweep of the greatest setting, by speed."""
    runs = [each for each in mounting.sound_runs if each.mean_speed]
    return max(runs, key=lambda each: each.mean_speed or 0.0) if runs else None


def _roots(flow: Array, surplus: Array) -> tuple[float, ...]:
    at = np.flatnonzero(np.signbit(surplus[:-1]) != np.signbit(surplus[1:]))
    share = surplus[at] / (surplus[at] - surplus[at + 1])
    return tuple(float(each) for each in flow[at] + share * (flow[at + 1] - flow[at]))


def crossings(fan: FanFacts) -> Iterator[Finding]:
    """Rule 32: per obstacle, what must be said of the operating points of the fan's mountings."""
    for obstacle in fan.obstacles:
        met = [(each, found) for each in fan.mountings if not each.obstacle
               and (found := crossing(each, obstacle)) is not None]  # fmt: skip
        several = [(each, found) for each, found in met if len(found.flows) > 1]
        outside = [(each, found) for each, found in met if _outside(found)]
        if several:
            yield _several(fan, obstacle, several)
        elif met and (stalled := [(each, found) for each, found in met if _stalled(found)]):
            yield _in_stall(fan, obstacle, stalled)
        for mounting, found in outside:
            yield _beyond(fan, obstacle, mounting, found)
    yield from _kept(fan)


def _outside(found: Crossing) -> bool:
    return not found.flows or found.flows[-1] > found.reach[1] * (1.0 + SLACK)


def _stalled(found: Crossing) -> bool:
    """Whether the operating point lies on the rising branch, or within a tenth of the saddle's hump."""
    return found.saddle is not None and bool(found.flows) and (
        0.9 * found.saddle[0] < found.flows[-1] < (1.0 + NEAR_SADDLE) * found.saddle[1]
    )  # fmt: skip


def _key(fan: FanFacts, obstacle: ObstacleFacts, mountings: Sequence[MountingFacts]) -> str:
    return key_of("crossing", fan.name, obstacle.judged, [each.judged for each in mountings])


def _flows(found: Crossing) -> str:
    return ", ".join(f"{3600 * each:.1f}" for each in found.flows) + " m³/h"


def _about(fan: FanFacts, obstacle: ObstacleFacts, met: Sequence[tuple[MountingFacts, Crossing]], found: str,
           expected: str, cause: str, test: str) -> Finding:  # fmt: skip
    return about_fan(32, fan.name, _key(fan, obstacle, [each for each, _ in met]), found, expected, cause=cause,
                        test=test, subject=f"fan:{fan.name} through {obstacle.name}")  # fmt: skip


def _several(
    fan: FanFacts, obstacle: ObstacleFacts, met: Sequence[tuple[MountingFacts, Crossing]]
) -> Finding:
    points = listed([f"{_flows(found)} ({each.name})" for each, found in met], 3)
    return _about(
        fan, obstacle, met, f"{fan.name} meets {obstacle.name} several times at full setting: {points}",
        "one operating point; the value is given as a range with all of them",
        "stall: the obstacle's curve runs through the saddle of the fan's",
        "mount the obstacle before the fan and open from shut-off, then close from free delivery",
    )  # fmt: skip


def _in_stall(
    fan: FanFacts, obstacle: ObstacleFacts, met: Sequence[tuple[MountingFacts, Crossing]]
) -> Finding:
    _, found = met[0]
    assert found.saddle is not None
    at, (valley, hump) = found.flows[-1], found.saddle
    where = "on the rising branch of its curve" if valley < at < hump else "near the saddle of its curve"
    return _about(
        fan, obstacle, met,
        f"{fan.name} works in stall on {obstacle.name}: {3600 * at:.1f} m³/h at full setting is {where}"
        f" ({3600 * valley:.1f} to {3600 * hump:.1f} m³/h), seen in {listed([each.name for each, _ in met])}",
        f"more than {3600 * (1 + NEAR_SADDLE) * hump:.1f} m³/h, or a mark",
        "stall: the obstacle is too dense for this fan",
        "mount the obstacle before the fan, hold the setting for a minute and watch flow and speed",
    )  # fmt: skip


def _beyond(fan: FanFacts, obstacle: ObstacleFacts, mounting: MountingFacts, found: Crossing) -> Finding:
    reach = f"{3600 * found.reach[0]:.1f} to {3600 * found.reach[1]:.1f} m³/h"
    meets = f"at {3600 * found.flows[-1]:.1f} m³/h" if found.flows else "nowhere"
    return about_mounting(
        32, mounting,
        f"{mounting.name} meets {obstacle.name} {meets}; its readings cover {reach}",
        "an operating point within the readings",
        cause="the sweep ended before it came near free delivery",
        test="open the throttle farther, or use the blower, and add the points that are missing",
        through=obstacle.name, what=_key(fan, obstacle, [mounting]), common=f"outside the readings, {obstacle.name}",
    )  # fmt: skip


def _kept(fan: FanFacts) -> Iterator[Finding]:
    """Values that were kept with a telling mark, through what the lab doesn't usually compare through."""
    usual = {each.name for each in fan.obstacles}
    for value in fan.published:
        if value.through in usual:
            continue
        outside = "extrapolated" in value.marks
        yield about_fan(
            32, fan.name, key_of("kept", fan.name, value.words, [each.judged for each in fan.mountings]),
            f"{value.words} of {fan.name} was kept and is {' and '.join(value.marks)}",
            "an operating point within the readings, and one only",
            severity=Severity.BLOCKS if outside else Severity.MARKS,
            subject=f"fan:{fan.name} {value.words}", cause="the readings end before the operating point"
            if outside else "stall: the load line runs through the saddle of the fan's curve",
            test="add points where the operating point lies",
        )  # fmt: skip


def stale_obstacles(fan: FanFacts) -> Iterator[Finding]:
    """Rule 33: obstacles that were measured long before, or after, the fan that is compared through them."""
    for obstacle in fan.obstacles:
        bare = [each for each in fan.mountings if not each.obstacle and each.date]
        if not obstacle.date or not bare:
            continue
        age = max(abs(_days(obstacle.date, each.date)) for each in bare)
        if age > fan.limits.obstacle_age:
            yield about_fan(
                33, fan.name, _key(fan, obstacle, bare),
                f"{obstacle.name} was measured {age} days away from {fan.name} ({obstacle.date})",
                f"within {fan.limits.obstacle_age:.0f} days", subject=f"fan:{fan.name} through {obstacle.name}",
                cause="dust and bent fins change a resistance", test=f"sweep {obstacle.name} once more",
                common=f"{obstacle.name} was measured long ago",
            )  # fmt: skip


def _days(one: str, other: str) -> int:
    return (date.fromisoformat(other) - date.fromisoformat(one)).days
