"""What a plain spreadsheet makes of the same exports: the ranking that the demo sets beside Stillroom's.

One file a fan (the first sample's first mounting at the highest duty), one discharge coefficient for all
nozzles, bores by their nominal size, air of 1.2 kg/m³, straight lines between the points. No gauge is
corrected, nothing is brought to common air, repeats are left aside, and no interval is given. Sheets like
this are common practice; there is no source.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from stillroom.vocabulary import quantity_for, to_si

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


def plain_ranking(folder: Path, obstacle: str) -> tuple[PlainRow, ...]:
    """Rank the fans of an obstacle's size as a plain spreadsheet would.

    Parameters
    ----------
    folder : holds the laboratory's tables and exports.
    obstacle : by name.

    Raises
    ------
    ValueError : no run of that obstacle. A fan whose points don't cross the obstacle's is left out.
    """
    runs = read_table(folder / "runs.csv")
    load_file = next((run["file"] for run in runs if run["obstacle"] == obstacle), None)
    if load_file is None:
        raise ValueError(f"no run of the obstacle {obstacle!r} in {folder / 'runs.csv'}")
    load = [(0.0, 0.0), *_curve(folder / load_file)]
    tile = next(
        row["tile size [mm]"] for row in read_table(folder / "obstacles.csv") if row["obstacle"] == obstacle
    )
    fans = [row["fan"] for row in read_table(folder / "fans.csv") if row["size [mm]"] == tile]
    found = []
    for fan in fans:
        own = [run for run in runs if run["fan"] == fan]
        first = [run for run in own if run["mounting"] == own[0]["mounting"]]
        file = max(first, key=lambda run: float(run["duty [%]"]))["file"]
        flow = _crossing(_curve(folder / file), load)
        if flow is not None:
            found.append((flow, fan, file))
    ordered = sorted(found, key=lambda row: -row[0])
    return tuple(PlainRow(rank, fan, flow, file) for rank, (flow, fan, file) in enumerate(ordered, start=1))


def read_table(path: Path) -> list[dict[str, str]]:
    """The rows of one of the laboratory's tables, as written."""
    with path.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def _curve(path: Path) -> Curve:
    """Flow and pressure of an export, point by point."""
    return sorted((_flow(row), _pressure(row)) for row in read_export(path))


def read_export(path: Path) -> Iterator[dict[str, str | float]]:
    """The points of an export, quantities in SI, with units from the header or from a row of units."""
    separator = "\t" if path.suffix == ".tsv" else ","
    header, *body = csv.reader(path.read_text(encoding="utf-8").splitlines(), delimiter=separator)
    units = [cell.partition("[")[2].rstrip("]") for cell in header]
    if body[0][0] == "":
        units, body = body[0], body[1:]
    words = [cell.partition("[")[0].strip() for cell in header]
    for line in body:
        row: dict[str, str | float] = {}
        for word, symbol, cell in zip(words, units, line, strict=True):
            known = quantity_for(word)
            if known is None:
                row[word] = cell
            else:
                row[known.name] = to_si(float(cell), symbol)
        yield row


def _flow(row: dict[str, str | float]) -> float:
    if "flow" in row:
        return float(row["flow"])
    listed = str(row["nozzles"])
    bores = [] if listed == "none" else [float(name[1:]) / 1000 for name in listed.split("+")]
    area = sum(math.pi * bore**2 / 4 for bore in bores)
    return COEFFICIENT * area * math.sqrt(2 * float(row["nozzle_pressure"]) / DENSITY)


def _pressure(row: dict[str, str | float]) -> float:
    name = "static_pressure" if "static_pressure" in row else "resistance_pressure"
    return float(row[name])


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
