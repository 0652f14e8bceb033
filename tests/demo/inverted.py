"""Exports turned back into true values with the hidden errors known: for the demo's own tests."""

import csv
from collections.abc import Iterator
from pathlib import Path

from stillroom.demo.air import Air, Nozzle, inlet_flow
from stillroom.demo.catalogue import fans, obstacles
from stillroom.demo.fan import Fan
from stillroom.demo.plan import quick_mountings
from stillroom.demo.truth import Truth
from stillroom.demo.write import SEED, samples
from stillroom.vocabulary import quantity_for, to_si

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


def read_table(path: Path) -> list[dict[str, str]]:
    """The rows of one of the laboratory's tables, as written."""
    with path.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def read_export(path: Path) -> Iterator[Row]:
    """The points of a plain export, quantities in SI, with units from the header or from a row of units."""
    separator = "\t" if path.suffix == ".tsv" else ","
    header, *body = csv.reader(path.read_text(encoding="utf-8").splitlines(), delimiter=separator)
    units = [cell.partition("[")[2].rstrip("]") for cell in header]
    if body[0][0] == "":
        units, body = body[0], body[1:]
    words = [cell.partition("[")[0].strip() for cell in header]
    for line in body:
        row: Row = {}
        for word, symbol, cell in zip(words, units, line, strict=True):
            known = quantity_for(word)
            if known is None:
                row[word] = cell
            else:
                row[known.name] = to_si(float(cell), symbol)
        yield row


def known_samples() -> dict[tuple[str, str], Fan]:
    models = fans(SEED, obstacles(SEED, full=False), full=False)
    return samples(models, quick_mountings(faults=False), SEED)
