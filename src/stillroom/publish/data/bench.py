"""What measured, and what the air went through, as open data: instruments, calibrations, nozzles, obstacles."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.resistance import Law, scaled
from stillroom.core.room_air import STANDARD_AIR
from stillroom.errors import NotPossible
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.curves import load_obstacle, result_of
from stillroom.publish.data.cells import Cell, figures
from stillroom.publish.data.fields import AT_LEAST_ZERO, Field, Link, Table, of_quantity, of_record, row_of
from stillroom.publish.data.shown import Shown
from stillroom.records.bench import Calibration, Instrument, Nozzle, Obstacle
from stillroom.store.results import Result
from stillroom.vocabulary import BY_NAME

OF_AN_INSTRUMENT = ("instrument", "quantity", "accuracy", "accuracy_relative", "accuracy_absolute", "resolution",
                    "span", "noise", "noise_relative", "noise_absolute", "self_noise", "full_scale",
                    "calibrator_level", "serial")  # fmt: skip
OF_A_CALIBRATION = ("instrument", "date", "due", "certificate", "offset", "offset_u", "gain", "gain_u")
OF_A_NOZZLE = ("nozzle", "bore", "bore_u", "length_ratio", "certificate")
OF_AN_OBSTACLE = ("obstacle", "version", "type", "date", "side", "tile_size", "description")
OF_INSTRUMENT = Link(("instrument",), "instruments", ("instrument",))


def instruments(shown: Shown) -> Table:
    """The instruments of the lab; those of which only a calibration is known by their name."""
    book = shown.contents.book
    bare = sorted({each.instrument for each in book.calibrations.values()} - book.instruments.keys())
    rows: list[dict[str, Cell]] = [
        row_of(each, *OF_AN_INSTRUMENT)
        | {"unit": BY_NAME[each.quantity].unit if each.quantity in BY_NAME else None}
        for each in sorted(book.instruments.values(), key=lambda each: each.instrument)
    ]
    rows += [{"instrument": each} for each in bare]
    unit = Field("unit", "unit", "Of what is fixed, of resolution and of span.")
    fields = (unit, *of_record(Instrument, *OF_AN_INSTRUMENT, quantity={"required": False}))
    words = "What measured, how finely, with the limits of error that its maker states."
    return Table("instruments", "Instruments", words, fields, tuple(rows), ("instrument",))


def calibrations(shown: Shown) -> Table:
    """The calibrations of the instruments, with their dates."""
    told = sorted(shown.contents.book.calibrations.values(), key=lambda each: (each.instrument, each.date))
    rows = tuple(row_of(each, *OF_A_CALIBRATION) for each in told)
    words = (
        "An instrument reads gain · true + offset; u are standard uncertainties, in the instrument’s unit."
    )
    fields = of_record(Calibration, *OF_A_CALIBRATION)
    return Table(
        "calibrations", "Calibrations", words, fields, rows, ("instrument", "date"), (OF_INSTRUMENT,)
    )


def nozzles(shown: Shown) -> Table:
    """The nozzles of the chambers."""
    told = sorted(shown.contents.book.nozzles.values(), key=lambda each: each.nozzle)
    rows = tuple(row_of(each, *OF_A_NOZZLE) for each in told)
    words = "The nozzles by which airflow is measured, with the standard uncertainty of their bores."
    return Table("nozzles", "Nozzles", words, of_record(Nozzle, *OF_A_NOZZLE), rows, ("nozzle",))


# --- obstacles --------------------------------------------------------------------------------------------

_SHARED = "In standard air, 1.2 kg/m³ and 20 °C; with the correlation of both parameters in `correlation`."


def obstacles(shown: Shown) -> Table:
    """The resistance of every obstacle that was measured, each version apart."""
    law = Field("law", "law", "The form of its pressure drop Δp [Pa] at a flow Q [m³/s].",
                constraints={"enum": [each.value for each in Law]})  # fmt: skip
    fields = (
        Field("name", "name", "Obstacle and version.", constraints={"required": True, "unique": True}),
        *of_record(Obstacle, *OF_AN_OBSTACLE, obstacle={"required": False}),
        law,
        _parameter("a", "Factor of Q.", "Pa s/m³"),
        _parameter("u_a", "Standard uncertainty of a.", "Pa s/m³"),
        _parameter("b", "Factor of Q².", "Pa s²/m⁶"),
        _parameter("u_b", "Standard uncertainty of b.", "Pa s²/m⁶"),
        _parameter("c", "Factor of Qⁿ, with Q in m³/s.", "Pa/(m³/s)ⁿ"),
        _parameter("u_c", "Standard uncertainty of c.", "Pa/(m³/s)ⁿ"),
        _parameter("n", "Exponent.", "1"),
        _parameter("u_n", "Standard uncertainty of n.", "1"),
        Field("correlation", "correlation", "Of the two parameters of the law: they are hardly ever independent.",
              "number", "1", constraints={"minimum": -1, "maximum": 1}),
        *(of_quantity(f"flow_{end}", "flow", shown.units, title=f"airflow {end}",
                      description=f"{which} flow at which it was read.") for end, which in
          (("from", "Least"), ("to", "Greatest"))),
        Field("runs", "runs", "From how many runs.", "integer", constraints=AT_LEAST_ZERO),
        Field("key", "key", "Key of the result."),
    )  # fmt: skip
    words = f"What obstacles resist. {_SHARED}"
    return Table("obstacles", "Obstacles", words, fields, tuple(_obstacles(shown)), ("name",))


def _parameter(name: str, words: str, unit: str) -> Field:
    return Field(name, name, f"{words} {_SHARED}", "number", unit, constraints=AT_LEAST_ZERO)


def measured_obstacles(shown: Shown) -> Iterable[tuple[CurveNode, Result]]:
    """The obstacles whose resistance could be had."""
    lab = shown.contents.lab
    for node in sorted(shown.contents.whole.graph.curves, key=lambda each: each.subject):
        if node.kind != "obstacle":
            continue
        try:
            yield node, result_of(lab, node)
        except NotPossible:
            continue


def _obstacles(shown: Shown) -> Iterable[dict[str, Cell]]:
    for node, result in measured_obstacles(shown):
        obstacle = load_obstacle(shown.contents.lab.path, result)
        found = obstacle.resistance
        rows = scaled(found.law, found.rows(Part.TOTAL, found.sources),
                      STANDARD_AIR.density / obstacle.density, STANDARD_AIR.viscosity / obstacle.viscosity)  # fmt: skip
        record = shown.contents.book.obstacles.get(node.subject)
        told: dict[str, Cell] = row_of(record, *OF_AN_OBSTACLE) if record else {"obstacle": node.subject}
        names = ("a", "b") if found.law is Law.LINEAR_QUADRATIC else ("c", "n")
        yield told | {
            "name": node.subject,
            "law": found.law.value,
            **_parameters(names, rows[0], rows[1 + len(found.sources) :]),
            "flow_from": figures(shown.si("flow", found.reach[0])),
            "flow_to": figures(shown.si("flow", found.reach[1])),
            "runs": len(node.runs),
            "key": result.key,
        }


def _parameters(names: tuple[str, str], central: Array, trials: Array) -> dict[str, Cell]:
    """Both parameters with their standard uncertainties and correlation, by their trials (M, 2)."""
    u = np.std(trials, axis=0, ddof=1)
    told: dict[str, Cell] = {}
    for at, name in enumerate(names):
        told |= {name: figures(float(central[at])), f"u_{name}": figures(float(u[at]), 3)}
    if u.all():
        told["correlation"] = figures(float(np.corrcoef(trials[:, 0], trials[:, 1])[0, 1]), 3)
    return told


def obstacle_points(shown: Shown) -> Table:
    """The readings of obstacles, reduced."""
    fields = (
        Field("obstacle", "obstacle", "Obstacle and version.", constraints={"required": True}),
        Field("run", "run", "Short identity of the run.", constraints={"required": True}),
        Field("point", "point", "Its place in the run, from 1.", "integer", constraints={"required": True}),
        of_quantity("flow", "flow", shown.units),
        of_quantity("drop", "resistance_pressure", shown.units),
        Field("density", "density", "Mean of the run.", "number", "kg/m³", "Air density, ρ."),
    )
    rows = tuple(
        {
            "obstacle": node.subject,
            "run": run["run"],
            "point": at,
            "flow": figures(shown.si("flow", flow)),
            "drop": figures(shown.si("resistance_pressure", drop)),
            "density": figures(run["density"]),
        }
        for node, result in measured_obstacles(shown)
        for run in result.body["runs"]
        for at, (flow, drop) in enumerate(zip(run["flow"], run["pressure"], strict=True), start=1)
    )
    words = "The points from which resistances were fitted, in the air as it was."
    link = Link(("obstacle",), "obstacles", ("name",))
    return Table("obstacle-points", "Points of obstacles", words, fields, rows, ("run", "point"), (link,))
