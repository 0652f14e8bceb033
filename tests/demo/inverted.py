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
    """The points of an export of the short round, quantities in SI: with commas, semicolons or tabs."""
    data = path.read_bytes()
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        lines, separator = data.decode("utf-16").split("\r\n\r\n", 1)[1].splitlines(), "\t"
    elif b";" in data:
        lines, separator = data.decode("cp1252").replace(",", ".").splitlines(), ";"
    else:
        lines, separator = data.decode("utf-8").splitlines(), ","
    header, *body = csv.reader(lines, delimiter=separator)
    units = [cell.partition("[")[2].rstrip("]") for cell in header]
    if separator == ";":
        units, body = body[0], body[1:]
        header = ["nozzles" if cell == "Düsen" else cell for cell in header]
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
