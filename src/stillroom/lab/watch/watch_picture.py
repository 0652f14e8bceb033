"""The newest run over the last mounting's curve: a small picture that a page shows anew, and one in letters."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from stillroom.charts.draw import html, png, set_page, svg
from stillroom.charts.fonts import register
from stillroom.charts.layout import Layout
from stillroom.charts.palette import Theme
from stillroom.charts.series import Curve, CurveChart
from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part, pressure_coefficients
from stillroom.core.fanlaws import disc_area
from stillroom.core.room_air import STANDARD_AIR
from stillroom.errors import NotPossible
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.book import Book, Placed
from stillroom.lab.curves import load_fan, result_of
from stillroom.lab.intake.checked import Checked
from stillroom.lab.intake.checking_in import last_mounting
from stillroom.lab.pictures.picture_words import footer
from stillroom.lab.recipes import Graph
from stillroom.lab.watch.text_plot import text_plot
from stillroom.store.files import write_bytes
from stillroom.store.lab import Lab
from stillroom.vocabulary import BY_NAME, from_si, shown_unit

NAME = "latest"
FOLDER = "charts"
EVERY = 2
"""How often the page looks for a newer picture [s]."""

_STEPS = 60


@dataclass(frozen=True)
class Newest:
    """The newest run as series, in the lab's units.

    Parameters
    ----------
    points : (flow, pressure), each brought from its own speed to the run's mean by the fan laws (Q ∝ n, p ∝ n²).
    curve : of its own mounting at that speed, empty where it can't be had. before : of the last mounting at the
    same speed. before_name : its name, or "".
    """

    points: tuple[tuple[float, float], ...]
    curve: tuple[tuple[float, float], ...]
    before: tuple[tuple[float, float], ...]
    before_name: str
    flow_unit: str
    pressure_unit: str


def newest(lab: Lab, book: Book, graph: Graph, placed: Placed) -> Newest:
    """The series of a run that has been worked out.

    Raises
    ------
    NotPossible : the run belongs to no curve, or its curve could not be had.
    """
    node = next((each for each in graph.curves for run in each.runs if run.placed.run == placed.run), None)
    if node is None or node.kind != "mounting":
        raise NotPossible(f"picture of run {placed.run}", found="no curve of a fan that it belongs to")
    facts = next(each for each in result_of(lab, node).body["runs"] if each["run"] == placed.run)
    units = tuple(shown_unit(BY_NAME[name], book.settings.units) for name in ("flow", "static_pressure"))
    before = last_mounting(graph, node)
    speed, density = facts["speed"], float(facts["density"])
    n = float(np.mean(speed)) if speed else None
    ratio = np.ones(1) if n is None else n / np.array(speed)
    return Newest(
        points=_in(np.array(facts["flow"]) * ratio, np.array(facts["pressure"]) * ratio**2, units),
        curve=_curve(lab, node, n, density, units) if n else (),
        before=_curve(lab, before, n, density, units) if n and before else (),
        before_name=before.subject if before else "",
        flow_unit=units[0],
        pressure_unit=units[1],
    )


def _in(flow: Array, pressure: Array, units: tuple[str, ...]) -> tuple[tuple[float, float], ...]:
    pairs = zip(flow, pressure, strict=True)
    return tuple((from_si(float(q), units[0]), from_si(float(p), units[1])) for q, p in pairs)


def _curve(
    lab: Lab, node: CurveNode, speed: float, density: float, units: tuple[str, ...]
) -> tuple[tuple[float, float], ...]:
    """A mounting's central curve at a speed [1/s] and density [kg/m³], where its pressure isn't negative."""
    fan = load_fan(lab.path, result_of(lab, node))
    phi = np.linspace(0.0, fan.characteristic.reach[1], _STEPS)
    tip = np.pi * fan.diameter * speed
    reynolds = tip * fan.diameter * density / STANDARD_AIR.viscosity
    psi = pressure_coefficients(fan.characteristic, phi, reynolds, part=Part.CENTRAL)[0]
    kept = psi >= 0.0
    return _in((phi * disc_area(fan.diameter) * tip)[kept], (psi * 0.5 * density * tip**2)[kept], units)


def in_letters(series: Newest) -> tuple[str, ...]:
    """The picture for a terminal."""
    line = series.before or series.curve
    pale = f"mounting {series.before_name}" if series.before else "its own mounting's curve"
    return text_plot(
        series.points,
        line,
        x_words=f"airflow [{series.flow_unit}]",
        y_words=f"static pressure [{series.pressure_unit}]",
        pale=pale,
    )


def chart_of(book: Book, series: Newest, checked: Checked) -> CurveChart:
    """The picture as a chart: the last mounting steps back, the new one stands before it."""
    curves = []
    if len(series.before) > 1:
        curves.append(_drawn(series.before_name, series.before, is_pale=True))
    line = series.curve if len(series.curve) > 1 else tuple(sorted(series.points))
    curves.append(_drawn(checked.placed.mounting, line, points=series.points, accent=True))
    over = f"over mounting {series.before_name}" if series.before else "with nothing to compare it with yet"
    return CurveChart(
        title=f"{checked.what}: {checked.word.value}",
        subtitle=checked.reason,
        footer=footer(book.settings, "airflow characteristic", checked.placed.taken.words),
        x_label="Airflow",
        x_unit=series.flow_unit,
        y_label="Static pressure",
        y_unit=series.pressure_unit,
        curves=tuple(curves),
        alt=f"Static pressure against airflow of {checked.what}, {over}: {checked.word.value},"
        f" {checked.reason}.",
    )


def _drawn(
    label: str,
    line: tuple[tuple[float, float], ...],
    *,
    points: tuple[tuple[float, float], ...] = (),
    accent: bool = False,
    is_pale: bool = False,
) -> Curve:
    return Curve(
        label=label,
        flow=tuple(x for x, _ in line),
        pressure=tuple(y for _, y in line),
        measured=points,
        accent=accent,
        is_pale=is_pale,
    )


def warm_up() -> None:
    """Load what drawing needs, before there is something to draw."""
    register()


def paint(folder: Path, chart: CurveChart) -> tuple[Path, ...]:
    """Write latest.svg, .html and .png into a folder; the page shows itself anew every two seconds."""
    sheet = set_page(chart, Layout.ARTICLE)
    page = html(chart).replace("<title>", f'<meta http-equiv="refresh" content="{EVERY}"><title>', 1)
    folder.mkdir(exist_ok=True)
    made = {"svg": svg(sheet, Theme.LIGHT).encode(), "html": page.encode(), "png": png(sheet, Theme.LIGHT)}
    for ending, content in made.items():
        write_bytes(folder / f"{NAME}.{ending}", content)
    return tuple(folder / f"{NAME}.{ending}" for ending in made)
