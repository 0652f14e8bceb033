"""What a plain spreadsheet makes of the same readings: the ranking that the demo sets beside Stillroom's.

One file a fan (the first sample's first mounting at the highest duty), one discharge coefficient for all
nozzles, bores by their nominal size, air of 1.2 kg/m³, straight lines between the points. No gauge is
corrected, nothing is brought to common air, repeats are left aside, and no interval is given. Sheets like
this are common practice; there is no source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from stillroom.demo.exports import Sweep
from stillroom.demo.sweeps import Row

COEFFICIENT = 0.97
"""One discharge coefficient for all nozzles."""
DENSITY = 1.2
"""One density for every day [kg/m³]."""
Curve = list[tuple[float, float]]
"""Points (flow [m³/s], pressure [Pa]) by rising flow."""


@dataclass(frozen=True)
class PlainRow:
    """One line of the plain ranking; `flow` [m³/s] through the obstacle at the highest duty."""

    rank: int
    fan: str
    flow: float
    file: str


def plain_ranking(fans: Mapping[str, tuple[str, Sweep]], load: Sweep) -> tuple[PlainRow, ...]:
    """Rank fans as a plain spreadsheet would.

    Parameters
    ----------
    fans : {fan: (file, its sweep)}. load : the obstacle's sweep.
    """
    resistance = [(0.0, 0.0), *_curve(load)]
    found = []
    for fan, (file, sweep) in fans.items():
        flow = _crossing(_curve(sweep), resistance)
        if flow is not None:
            found.append((flow, fan, file))
    ordered = sorted(found, key=lambda row: -row[0])
    return tuple(PlainRow(rank, fan, flow, file) for rank, (flow, fan, file) in enumerate(ordered, start=1))


def _curve(sweep: Sweep) -> Curve:
    """Flow and pressure of a sweep, point by point."""
    return sorted((_flow(row), _pressure(row)) for row in sweep.rows)


def _flow(row: Row) -> float:
    if "flow" in row.values:
        return row.values["flow"]
    bores = [] if row.nozzles == "none" else [float(name[1:]) / 1000 for name in row.nozzles.split("+")]
    area = sum(math.pi * bore**2 / 4 for bore in bores)
    return COEFFICIENT * area * math.sqrt(2 * row.values["nozzle_pressure"] / DENSITY)


def _pressure(row: Row) -> float:
    name = "static_pressure" if "static_pressure" in row.values else "resistance_pressure"
    return row.values[name]


def _crossing(fan: Curve, load: Curve) -> float | None:
    """Flow [m³/s] at the last crossing of two curves made of straight lines; None where their points don't cross."""
    flows = sorted({flow for flow, _ in (*fan, *load) if fan[0][0] <= flow <= min(fan[-1][0], load[-1][0])})
    surplus = [_on_line(fan, flow) - _on_line(load, flow) for flow in flows]
    for i in range(len(flows) - 1, 0, -1):
        before, after = surplus[i - 1], surplus[i]
        if before > 0 >= after:
            return flows[i - 1] + (flows[i] - flows[i - 1]) * before / (before - after)
    return None


def _on_line(curve: Curve, flow: float) -> float:
    for (q0, p0), (q1, p1) in pairwise(curve):
        if q0 <= flow <= q1:
            return p0 if q0 == q1 else p0 + (p1 - p0) * (flow - q0) / (q1 - q0)
    raise ValueError(f"{flow} m³/s lies outside the curve")
