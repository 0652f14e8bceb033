"""The data table beside a chart: the same numbers, rounded as honestly, in CSV and in a page."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

from stillroom import wording
from stillroom.charts import marks
from stillroom.charts.fonts import clean
from stillroom.charts.series import Bar, Chart, CollapseChart, CurveChart, RankedBars

_TO_FILE = str.maketrans({wording.MINUS: "-", wording.NARROW: None, wording.NO_BREAK: " "})


@dataclass(frozen=True)
class Table:
    """Columns and rows of words; `numeric` names the columns that hold numbers."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: frozenset[int]

    def as_csv(self) -> str:
        """Comma-separated, UTF-8, numbers with a plain minus and no groups."""
        made = io.StringIO()
        writer = csv.writer(made, lineterminator="\n")
        writer.writerow(self.columns)
        for row in self.rows:
            writer.writerow(
                cell.translate(_TO_FILE) if index in self.numeric else clean(cell)
                for index, cell in enumerate(row)
            )
        return made.getvalue()

    def as_html(self, caption: str) -> str:
        """A table element with its caption and column headers."""
        head = "".join(f'<th scope="col">{marks.escaped(each)}</th>' for each in self.columns)
        body = "".join(f"<tr>{''.join(map(self._cell, range(len(row)), row))}</tr>" for row in self.rows)
        return (
            f"<table><caption>{marks.escaped(caption)}</caption><thead><tr>{head}</tr></thead>"
            f"<tbody>{body}</tbody></table>"
        )

    def _cell(self, index: int, words: str) -> str:
        if index == 0:
            return f'<th scope="row" dir="auto">{marks.escaped(words)}</th>'
        kind = ' class="number"' if index in self.numeric else ' dir="auto"'
        return f"<td{kind}>{marks.escaped(words)}</td>"


def table_of(chart: Chart) -> Table:
    """The data table of a chart."""
    if isinstance(chart, RankedBars):
        return _ranking(chart)
    if isinstance(chart, CurveChart):
        return _curves(chart)
    return _collapse(chart)


def _ends(bar: Bar) -> tuple[str, str]:
    if bar.low is None or bar.high is None:
        return "", ""
    if bar.low == bar.high:
        return wording.bare(bar.low), wording.bare(bar.high)
    places = wording.places_for((bar.high - bar.low) / 2)
    return wording.number(bar.low, places), wording.number(bar.high, places)


def _ranking(chart: RankedBars) -> Table:
    in_unit = f" [{chart.unit}]" if chart.unit else ""
    columns = (
        "Fan", "Bound", f"{chart.measure}{in_unit}", f"95 % from{in_unit}", f"95 % to{in_unit}",
        "Standing", "Note",
    )  # fmt: skip
    rows = [
        (
            bar.label,
            bar.bound.value,
            wording.rounded(bar.value, bar.low, bar.high),
            *_ends(bar),
            bar.mark_word,
            bar.note,
        )
        for bar in chart.bars
    ]
    rows += [(name, "", "", "", "", "not ranked", why) for name, why in chart.excluded]
    return Table(columns, tuple(rows), frozenset((2, 3, 4)))


def _series(
    label: str,
    kind: str,
    flow: Sequence[float],
    pressure: Sequence[float],
    lows: Sequence[str] = (),
    highs: Sequence[str] = (),
) -> list[tuple[str, ...]]:
    blank = [""] * len(flow)
    columns = (wording.alike(flow), wording.alike(pressure), lows or blank, highs or blank)
    return [(label, kind, *cells, "") for cells in zip(*columns, strict=True)]


def _curves(chart: CurveChart) -> Table:
    columns = (
        "Series", "Kind", f"{chart.x_label} [{chart.x_unit}]", f"{chart.y_label} [{chart.y_unit}]",
        f"95 % from [{chart.y_unit}]", f"95 % to [{chart.y_unit}]", "Note",
    )  # fmt: skip
    rows: list[tuple[str, ...]] = []
    for point in chart.points:
        flow = wording.rounded(point.flow, point.flow_low, point.flow_high)
        said = [f"airflow {wording.with_interval(point.flow, point.flow_low, point.flow_high, chart.x_unit)}"]
        said += [point.word] if point.word else []
        series = f"{point.curve} through {point.load}" if point.curve and point.load else point.label
        rows.append((series, "operating point", flow, wording.bare(point.pressure), "", "", ", ".join(said)))
    for curve in chart.curves:
        lows = wording.alike(curve.low) if curve.low else [""] * len(curve.flow)
        highs = wording.alike(curve.high) if curve.high else [""] * len(curve.flow)
        rows += _series(curve.label, "curve", curve.flow, curve.pressure, lows, highs)
        flows, pressures = (tuple(pair[axis] for pair in curve.measured) for axis in (0, 1))
        rows += _series(curve.label, "measured", flows, pressures)
    for load in chart.loads:
        rows += _series(load.label, "load line", load.flow, load.pressure)
    return Table(columns, tuple(rows), frozenset((2, 3, 4, 5)))


def _collapse(chart: CollapseChart) -> Table:
    columns = ("Sweep", "Speed", "Mounting", "φ", "ψ", "Residual [%]", "Used in the fit", "Note")
    rows = tuple(
        (
            sweep.label, sweep.speed, sweep.mounting, wording.number(phi, 4), wording.number(psi, 4),
            wording.number(residual, 2), "no, held" if sweep.held else "yes", sweep.word,
        )
        for sweep in chart.sweeps
        for phi, psi, residual in zip(sweep.phi, sweep.psi, sweep.residual, strict=True)
    )  # fmt: skip
    return Table(columns, rows, frozenset((3, 4, 5)))
