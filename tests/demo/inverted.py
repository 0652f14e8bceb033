"""Exports turned back into true values with the hidden errors known: for the demo's own tests."""

from pathlib import Path

from stillroom.demo.air import Air, Nozzle, inlet_flow
from stillroom.demo.catalogue import fans, obstacles
from stillroom.demo.fan import Fan
from stillroom.demo.plan import mountings
from stillroom.demo.spreadsheet import read_export
from stillroom.demo.truth import Truth
from stillroom.demo.write import SEED, samples

Lab = tuple[Path, Truth]
Row = dict[str, str | float]


def undone(truth: Truth, row: Row, quantity: str, *, gauge: str = "") -> float:
    """A reading with the hidden errors of its gauge taken out; the ranges' small parts are left in."""
    known = next(each for each in truth.gauges if each.quantity == (gauge or quantity))
    return (float(row[quantity]) - known.offset) / known.gain


def true_state(truth: Truth, row: Row) -> tuple[float, float, Air]:
    """Flow [m³/s], static pressure [Pa] and air behind a row of the chamber, from the true bores."""
    air = Air(*(undone(truth, row, q) for q in ("barometric_pressure", "temperature", "relative_humidity")))
    pressure = undone(truth, row, "static_pressure")
    listed = [] if row["nozzles"] == "none" else str(row["nozzles"]).split("+")
    if not listed:
        return 0.0, pressure, air
    nozzles = tuple(Nozzle(name, truth.bores[name], 0.6, truth.coefficient) for name in listed)
    return inlet_flow(undone(truth, row, "nozzle_pressure"), nozzles, air, pressure), pressure, air


def rows_of(folder: Path, file: str) -> list[Row]:
    return list(read_export(folder / file))


def known_samples() -> dict[tuple[str, str], Fan]:
    models = fans(SEED, obstacles(SEED, full=False), full=False)
    return samples(models, mountings(tuple(f.name for f in models), faults=False, full=False), SEED)
