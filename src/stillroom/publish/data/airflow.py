"""Pressure against flow as open data: curves at each setting with their intervals, and the points behind them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.intervals import coverage_interval
from stillroom.core.mounted import BEYOND, Curve, MountedFan
from stillroom.core.speeds import setting_words
from stillroom.errors import NotPossible
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.curves import load_fan
from stillroom.publish.data.cells import Cell, figures
from stillroom.publish.data.fields import AT_LEAST_ZERO, Field, Table, of_quantity
from stillroom.publish.data.shown import (
    DATE,
    FAN,
    MOUNTING,
    OBSTACLE,
    OF_MOUNTING,
    OF_SAMPLE,
    SAMPLE,
    Shown,
    place,
    setting_cells,
    setting_fields,
)
from stillroom.store.results import Result

READ = 40
"""Points of a curve within what was read."""

PLACES = round((READ - 1) * BEYOND) + 1


@dataclass(frozen=True)
class _Setting:
    """A setting of a curve: its kind and value [SI]; "" at full setting."""

    kind: str = ""
    value: float | None = None

    @property
    def words(self) -> str:
        if self.value is None:
            return "full setting"
        return f"{self.value * 60:.4g} rpm" if self.kind == "speed" else setting_words(self.kind, self.value)


def curves(shown: Shown) -> Table:
    """The curve of every mounting at every setting that was tested, with its 95 % interval."""
    units = shown.units
    pressure, power = (_interval(name, quantity, units) for name, quantity in
                       (("pressure", "static_pressure"), ("power", "power")))  # fmt: skip
    fields = (
        Field("curve", "curve", "Mounting and setting.", constraints={"required": True}),
        place("point", "Its place on the curve, from no flow up."),
        MOUNTING,
        FAN,
        SAMPLE,
        OBSTACLE,
        *setting_fields(units),
        of_quantity("flow", "flow", units),
        *pressure,
        of_quantity("hysteresis", "static_pressure", units, title="half of what both ways differ by",
                    description="Half of the difference between sweeps up and down, where they differ."),
        of_quantity("speed", "speed", units, description="Of the fan at that point."),
        *power,
    )  # fmt: skip
    words = (
        "Static pressure against airflow of one mounting, at 1.2 kg/m³: fitted to the points of all its sweeps, "
        "within the flows that were read. Without a setting: full setting. Intervals are 95 %, of this mounting."
    )
    rows = (row for node, result in shown.airflow for row in _curves(shown, node, result))
    return Table("curves", "Curves", words, fields, tuple(rows), ("curve", "point"), (OF_MOUNTING, OF_SAMPLE))


def _interval(name: str, quantity: str, units: dict[str, str]) -> tuple[Field, ...]:
    ends = (("", ""), ("_low", ", 95 % from"), ("_high", ", 95 % to"))
    value = of_quantity(name, quantity, units)
    return tuple(
        of_quantity(f"{name}{end}", quantity, units, title=f"{value.title}{words}",
                    description=f"{value.title}{words}.") for end, words in ends
    )  # fmt: skip


def _settings(fan: MountedFan, node: CurveNode) -> list[_Setting]:
    """The settings of a mounting that were tested: duties and voltages, else set speeds, else full setting alone."""
    told = [_Setting(each.kind, float(value)) for each in fan.settings for value in each.values]
    if told:
        return told
    low, high = fan.speeds
    speeds = {each.placed.setting for each in node.runs if each.placed.setting_kind == "speed"}
    used = sorted(each for each in speeds if each and low <= each <= high)
    return [_Setting("speed", each) for each in used] or [_Setting()]


def _curves(shown: Shown, node: CurveNode, result: Result) -> Iterable[dict[str, Cell]]:
    fan = load_fan(shown.contents.lab.path, result)
    sources = fan.characteristic.sources
    for setting in _settings(fan, node):
        told = {"duty": None, "volts": None, "speed": None, setting.kind: setting.value}
        try:
            curve = fan.curve(told["speed"], Part.TOTAL, sources, duty=told["duty"], volts=told["volts"],
                              places=PLACES)  # fmt: skip
        except NotPossible:
            continue  # no sweep at full setting that can be used
        yield from _points_of(shown, node, setting, curve)


def _points_of(shown: Shown, node: CurveNode, setting: _Setting, curve: Curve) -> Iterable[dict[str, Cell]]:
    sources = curve.fan.characteristic.sources
    low, high = curve.fan.characteristic.reach
    within = np.flatnonzero((curve.phi >= low * 0.999) & (curve.phi <= high * 1.001))
    pressure = _with_interval(curve.pressure[:, within], len(sources))
    power = _power(curve, sources)
    for place_, at in enumerate(within):
        yield {
            "curve": f"{node.subject} at {setting.words}",
            "point": place_ + 1,
            "mounting": node.subject,
            "fan": node.fan,
            "sample": node.sample,
            "obstacle": node.obstacle or None,
            **setting_cells(shown, setting.kind, setting.value),
            "flow": figures(shown.si("flow", float(curve.flow[0, at]))),
            **_cells(shown, "pressure", "static_pressure", pressure, place_),
            "hysteresis": _half(shown, curve, int(at)),
            "speed": figures(shown.si("speed", float(curve.speed[0, at]))),
            **(_cells(shown, "power", "power", power, int(at)) if power else {}),
        }


def _half(shown: Shown, curve: Curve, at: int) -> float | None:
    half = 0.0 if curve.half is None else float(curve.half[0, at])
    return figures(shown.si("static_pressure", half), 3) if half else None


def _with_interval(rows: Array, sources: int) -> tuple[Array, Array, Array]:
    """The central row with the 95 % interval of the trials, each (g,)."""
    low, high = coverage_interval(rows[1 + sources :], axis=0)
    return rows[0], low, high


def _power(curve: Curve, sources: tuple[str, ...]) -> tuple[Array, Array, Array] | None:
    if curve.fan.power is None:
        return None
    return _with_interval(curve.power(Part.TOTAL, sources), len(sources))


def _cells(
    shown: Shown, name: str, quantity: str, values: tuple[Array, Array, Array], at: int
) -> dict[str, Cell]:
    ends = zip(("", "_low", "_high"), values, strict=True)
    return {f"{name}{end}": figures(shown.si(quantity, float(each[at]))) for end, each in ends}


def points(shown: Shown) -> Table:
    """Every reading in a chamber, reduced."""
    units = shown.units
    fields = (
        Field("run", "run", "Short identity of the run.", constraints={"required": True}),
        place("point", "Its place in the run."),
        MOUNTING,
        FAN,
        SAMPLE,
        OBSTACLE,
        DATE,
        Field("setting", "setting", "At which setting, in words."),
        of_quantity("flow", "flow", units, description="At the fan’s inlet."),
        of_quantity("pressure", "static_pressure", units),
        of_quantity("speed", "speed", units),
        of_quantity("power", "power", units),
        Field("density", "density", "Mean of the run.", "number", "kg/m³", "Air density, ρ."),
        of_quantity("u_flow", "flow", units, title="u(airflow), own", constraints=AT_LEAST_ZERO,
                    description="Standard uncertainty of this reading alone."),
        of_quantity("u_pressure", "static_pressure", units, title="u(pressure), own", constraints=AT_LEAST_ZERO,
                    description="Standard uncertainty of this reading alone."),
        Field("shared_flow", "u(airflow), shared", "Relative standard uncertainty that all readings of the run share.",
              "number", "1", constraints=AT_LEAST_ZERO),
        Field("shared_pressure", "u(pressure), shared",
              "Relative standard uncertainty that all readings of the run share.", "number", "1",
              constraints=AT_LEAST_ZERO),
        Field("used", "used", "Whether the curve was fitted to it; false where other sweeps contradict it.", "boolean"),
    )  # fmt: skip
    words = (
        "The readings in the chamber as physical points, in the air and at the speed as they were. Excluded runs "
        "are not among them; why is in the table of exclusions."
    )
    rows = (row for node, result in shown.airflow for row in _points(shown, node, result))
    return Table("points", "Points", words, fields, tuple(rows), ("run", "point"), (OF_MOUNTING, OF_SAMPLE))


def _points(shown: Shown, node: CurveNode, result: Result) -> Iterable[dict[str, Cell]]:
    curve = result.body["curve"]
    held = {each["index"] for each in curve["held"]}
    dropped = {each["sweep"] for each in curve["sweeps"] if each["dropped"]}
    index = 0
    for sweep, run in enumerate(result.body["runs"]):
        for at in range(run["points"]):
            yield {
                "run": run["run"],
                "point": at + 1,
                "mounting": node.subject,
                "fan": node.fan,
                "sample": node.sample,
                "obstacle": node.obstacle or None,
                "date": run["date"],
                "setting": run["setting"] or None,
                "used": index not in held and sweep not in dropped,
                **_reading(shown, run, at),
            }
            index += 1


_READ = {
    "flow": ("flow", "flow", 6),
    "pressure": ("pressure", "static_pressure", 6),
    "speed": ("speed", "speed", 6),
    "power": ("power", "power", 6),
    "u_flow": ("own_flow", "flow", 3),
    "u_pressure": ("own_pressure", "static_pressure", 3),
}
"""{column: (what of a run's facts, its quantity, significant digits)}."""


def _reading(shown: Shown, run: dict[str, Any], at: int) -> dict[str, Cell]:
    told: dict[str, Cell] = {
        "density": figures(run["density"]),
        "shared_flow": figures(run["shared_flow"], 3),
        "shared_pressure": figures(run["shared_pressure"], 3),
    }
    for name, (fact, quantity, digits) in _READ.items():
        if run[fact] is not None:
            told[name] = figures(shown.si(quantity, run[fact][at]), digits)
    return told
