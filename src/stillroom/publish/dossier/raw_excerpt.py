"""The raw excerpt: the rows of the originals from which a fan's numbers come, and nobody else's."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from stillroom.charts.cells import safe_text
from stillroom.lab.book import Placed
from stillroom.lab.readings import readings_of
from stillroom.publish.dossier.veil import Veil
from stillroom.readers.layout import Layout
from stillroom.readers.reading.raw import grid_of
from stillroom.readers.source import Source
from stillroom.records.acts import Taken
from stillroom.store import originals
from stillroom.store.lab import Lab

FILE = "raw.zip"
LONGEST_NUMBER = 40
"""Signs of a cell that is still taken for a number."""

_EPOCH = (1980, 1, 1, 0, 0, 0)
_NUMBER = re.compile(r"[+\-−]?[\d.,'\s]*\d[\d.,'\s]*(?:[eE][+\-]?\d+)?%?")


@dataclass(frozen=True)
class Excerpt:
    """One run's rows.

    Parameters
    ----------
    name : of its file in the archive. run : it is of. rows : how many. lines : first and last line in the original.
    """

    name: str
    run: Placed
    rows: int
    lines: tuple[int, int]


def write_raw(lab: Lab, runs: Sequence[Placed], veil: Veil, folder: Path) -> list[Excerpt]:
    """Write the raw cells of a fan's runs into one archive, a CSV file a run; nothing where none is a table.

    The columns are those that were read, with their headers as they stand in the file, and the line of each row.
    Notes above tables, and columns that nobody read, are left out: they may speak of other fans.

    Parameters
    ----------
    runs : of one fan. veil : over names of others in cells of text. folder : in which the archive is written.

    Raises
    ------
    LabDamaged : an original is missing or was changed.
    """
    tables = [each for each in runs if "audio" not in each.taken.layout]
    if not tables:
        return []
    made: list[Excerpt] = []
    with zipfile.ZipFile(folder / FILE, "x", zipfile.ZIP_DEFLATED) as archive:
        for number, run in enumerate(tables, start=1):
            name = f"{number:03d}-{run.purpose.value}-{run.run}.csv"
            data, lines = _cut(lab, run.taken, veil)
            archive.writestr(_entry(name), data)
            made.append(Excerpt(name, run, len(lines), (min(lines), max(lines)) if lines else (0, 0)))
    return made


def _entry(name: str) -> zipfile.ZipInfo:
    """An entry without a time of its own: the same rows make the same bytes."""
    entry = zipfile.ZipInfo(name, _EPOCH)
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.external_attr = 0o644 << 16
    return entry


def _cut(lab: Lab, taken: Taken, veil: Veil) -> tuple[bytes, list[int]]:
    """The rows of one run as CSV, and their lines in the original."""
    layout = Layout.from_dict(taken.layout)
    wanted = set(readings_of(lab.path, taken).lines)
    columns = [at for at, each in enumerate(layout.columns) if each.quantity or each.band]
    text = io.StringIO()
    write = csv.writer(text, lineterminator="\r\n")
    heads = [(layout.columns[at].header, layout.columns[at].unit) for at in columns]
    write.writerow(["line", *(safe_text(veil.over(_head(*each))) for each in heads)])
    lines = []
    for line, cells in _rows(lab, taken, layout, wanted):
        write.writerow([line, *(_safe(cells[at] if at < len(cells) else "", veil) for at in columns)])
        lines.append(line)
    return text.getvalue().encode(), lines


def _rows(lab: Lab, taken: Taken, layout: Layout, wanted: set[int]) -> Iterator[tuple[int, list[str]]]:
    source = Source(taken.file, originals.data_of(lab.path, taken.place, taken.sha256))
    last = max(wanted, default=0)
    for row in grid_of(source, layout).rows():
        if row.line in wanted:
            yield row.line, row.cells
        if row.line >= last:
            return


def _head(header: str, unit: str) -> str:
    return header if not unit or unit in header else f"{header} [{unit}]"


def _safe(cell: str, veil: Veil) -> str:
    """A raw cell: numbers as they stand, text without names of others and safe for a spreadsheet."""
    is_number = len(cell) <= LONGEST_NUMBER and _NUMBER.fullmatch(cell.strip())
    return cell if is_number else safe_text(veil.over(cell))
