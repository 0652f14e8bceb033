"""The data table beside a chart: the same numbers, rounded as honestly, in CSV and in a page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from stillroom import wording
from stillroom.charts.cells import Table
from stillroom.charts.further_series import (
    Chart,
    ClaimChart,
    ControlPicture,
    ObstacleChart,
    PanelChart,
)
from stillroom.charts.further_tables import claims, control, obstacles, response
from stillroom.charts.heat import tables as heat
from stillroom.charts.heat.series import AgreementChart, SettlingChart
from stillroom.charts.response import ResponseChart
from stillroom.charts.series import Bar, CollapseChart, CurveChart, RankedBars
from stillroom.charts.sound import tables as sound
from stillroom.charts.sound.series import LevelChart, RampChart, SpectrumChart, TradeChart

__all__ = ["Table", "table_of"]


def table_of(chart: Chart) -> Table:
    """The data table of a chart."""
    return _TABLES[type(chart)](chart)


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
    return Table(columns, tuple(_ranked(chart)), frozenset((2, 3, 4)))


def _ranked(chart: RankedBars) -> list[tuple[str, ...]]:
    """The rows of a ranking: the fans in order, then those that can't be ranked."""
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
        if not bar.is_missing
    ]
    gone = {bar.label: bar.note for bar in chart.bars if bar.is_missing} | dict(chart.excluded)
    return [*rows, *((name, "", "", "", "", "not ranked", why) for name, why in gone.items())]


def _panels(chart: PanelChart) -> Table:
    unit = chart.panels[0].unit if chart.panels else ""
    name = chart.panels[0].measure if chart.panels else "Value"
    columns = (chart.heading, "Fan", "Bound", f"{name} [{unit}]", f"95 % from [{unit}]", f"95 % to [{unit}]",
               "Standing", "Note")  # fmt: skip
    rows = tuple((panel.title, *row) for panel in chart.panels for row in _ranked(panel))
    return Table(columns, rows, frozenset((3, 4, 5)))


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


_TABLES: dict[type[Any], Callable[[Any], Table]] = {
    RankedBars: _ranking,
    CurveChart: _curves,
    CollapseChart: _collapse,
    ObstacleChart: obstacles,
    PanelChart: _panels,
    ClaimChart: claims,
    ControlPicture: control,
    LevelChart: sound.levels,
    SpectrumChart: sound.spectrum,
    RampChart: sound.ramp,
    TradeChart: sound.tradeoff,
    SettlingChart: heat.settling,
    AgreementChart: heat.agreement,
    ResponseChart: response,
}
