"""Invented charts of obstacles, panels, claims and checks for the tests."""

from __future__ import annotations

import datetime
import math

from chart_samples import pq

from stillroom.charts.further_series import (
    CheckEra,
    CheckEvent,
    CheckLimits,
    CheckPoint,
    ClaimChart,
    ClaimRow,
    ControlPicture,
    ObstacleChart,
    ObstacleCurve,
    PanelChart,
    Sign,
)
from stillroom.charts.series import Bar, CurveChart, OperatingMark, RankedBars

OBSTACLES = (
    ("dense radiator with a dust filter (dense)", "dense", 0.16, 2.6e-3),
    ("radiator, 27 mm thick (rad27 1)", "rad27 1", 0.085, 1.15e-3),
    ("radiator, 27 mm thick (rad27 2)", "rad27 2", 0.09, 1.25e-3),
    ("fine filter (fine)", "fine", 0.08, 6e-4),
    ("mesh filter (mesh)", "mesh", 0.035, 3e-4),
    ("radiator, 45 mm thick (rad45)", "rad45", 0.11, 1.5e-3),
    ("open grille (grille)", "grille", 0.0, 1.2e-4),
)


def obstacle(label: str, short: str, a: float, b: float) -> ObstacleCurve:
    """One obstacle of known a [Pa/(m³/h)] and b [Pa/(m³/h)²]."""
    flow = tuple(10.0 * 13.0 ** (k / 59) for k in range(60))
    drop = tuple(a * q + b * q * q for q in flow)
    return ObstacleCurve(
        label,
        flow,
        drop,
        tuple(0.98 * each for each in drop),
        tuple(1.02 * each for each in drop),
        tuple((q, p * (1 + 0.01 * math.sin(q))) for q, p in zip(flow[::6], drop[::6], strict=True)),
        "Δp = aQ + bQ²",
        short,
        (("a", f"{a} Pa/(m³/h)"), ("b", f"{b} Pa/(m³/h)²")),
    )


def obstacles(count: int = 7, *, is_log: bool = True) -> ObstacleChart:
    """Several obstacles, the steepest first."""
    return ObstacleChart(
        "At 129 m³/h dense resists 30 times as much as grille",
        "Pressure drop against airflow of one piece, brought to 1.2 kg/m³ and 20 °C; bands show 95 %",
        "Nozzle chamber, ISO 5801 · ten runs · 25 November 2026",
        "Airflow", "m³/h", "Pressure drop", "Pa",
        tuple(obstacle(*each) for each in OBSTACLES[:count]),
        is_log,
        alt="Pressure drop of seven obstacles.",
    )  # fmt: skip


FANS = ("Whin", "Alder", "Sedge", "Bracken", "Thyme", "Cress")


def panel(title: str, scale: float, tied: int, missing: str = "") -> RankedBars:
    """One panel: values fall along the fans; one may have no value."""
    bars = tuple(
        Bar(name, 0.0, None, None, note="does not cross", is_missing=True)
        if name == missing
        else Bar(
            name,
            scale * (90 - 3 * place),
            scale * (88 - 3 * place),
            scale * (92 - 3 * place),
            "too close to call" if place < tied else "",
            place < tied,
            accent=name == "Bracken",
        )
        for place, name in enumerate(FANS)
    )
    return RankedBars(title, "", "", "", "m³/h", bars)


def panels() -> PanelChart:
    """Five obstacles, six fans."""
    return PanelChart(
        "Two fans may be the best through all five obstacles",
        "Airflow, m³/h at full speed, at 1.2 kg/m³; ordered as through mesh",
        "longer is better",
        "Nozzle chamber, ISO 5801 · 18 mountings, lines show 95 %",
        (
            panel("mesh filter (mesh)", 1.0, 3),
            panel("fine filter (fine)", 0.8, 2),
            panel("radiator, 27 mm thick (rad27)", 0.7, 2),
            panel("radiator, 45 mm thick (rad45)", 0.6, 4, "Thyme"),
            panel("dense radiator with a dust filter (dense)", 0.5, 2),
        ),
        alt="Small multiples of airflow.",
    )


def claims(count: int = 6) -> ClaimChart:
    """Each verdict once, and one claim more."""
    rows = (
        ClaimRow("Bilberry, free airflow", "outside, below the claim", Sign.FAILS, "70.1 CFM ± 10 %",
                 "59.2 CFM (57.5 to 60.9)", "box 70.1 ± 10 %, measured 59.2 CFM", 84.5, 82.0, 86.9, 10.0,
                 "two samples", "free delivery"),
        ClaimRow("Sundew, maximum pressure", "outside, 1 sample: not published as a failure", Sign.UNPROVEN,
                 "1.81 mmH₂O", "1.65 mmH₂O (1.51 to 1.77)", "box 1.81, measured 1.65 mmH₂O", 91.2, 83.4, 97.8, 0.0,
                 "one sample"),
        ClaimRow("Sedge, free airflow", "within uncertainty", Sign.UNRESOLVED, "61.1 CFM",
                 "62 CFM (58 to 65)", "box 61.1, measured 62 CFM", 101.5, 94.9, 106.4, 0.0, "one sample"),
        ClaimRow("Bracken, speed", "within tolerance", Sign.HOLDS, "1800 rpm ± 10 %",
                 "1811 rpm (1790 to 1832)", "box 1800 ± 10 %, measured 1811 rpm", 100.6, 99.4, 101.8, 10.0,
                 "two samples"),
        ClaimRow("Whin, free airflow", "not checkable: its condition isn’t printed", Sign.UNCHECKED, "103 m³/h"),
        ClaimRow("Whin, noise", "not checkable: noise isn’t measured yet", Sign.UNCHECKED, "24 dBA"),
    )  # fmt: skip
    return ClaimChart(
        "Bilberry’s free airflow is 16 % below its box",
        "Measured in % of what the box prints, under the condition that the box prints; lines show 95 %",
        "Nozzle chamber, ISO 5801 · up to four mountings a fan",
        rows[:count],
        ("Outside: |z| > 2.",),
        "What boxes claim beside what was measured.",
    )


def checks(count: int = 26) -> ControlPicture:
    """Checks of two eras: ten without limits each, one signal, three events."""
    first = datetime.date(2026, 3, 2)
    points = []
    for index in range(count):
        era = 1 if index < 16 else 2
        since = index if era == 1 else index - 16
        value = (
            96.0 + 0.5 * math.sin(2.4 * index) + (2.6 if index == 13 else 0.0) + (1.0 if era == 2 else 0.0)
        )
        centre = 95.0 + era
        limits = (
            None
            if since < 10
            else CheckLimits(centre, centre - 2, centre + 2, centre + 0.1, centre - 0.7, centre + 0.7)
        )
        date = (first + datetime.timedelta(days=index + index // 5 * 2)).isoformat()
        points.append(CheckPoint(date, value, limits, "outside 3 s" if index == 13 else "", f"era {era}"))
    events = (
        CheckEvent("2026-03-04T08:30", "leak test passed, zeros taken"),
        CheckEvent("2026-03-05", "barometer sent for calibration"),
        CheckEvent("2026-03-25T07:50", "seal of the fan plate changed", True),
    )
    return ControlPicture(
        "Check rig chamber: outside 3 s on 2026-03-19",
        "Free airflow of Bogmyrtle/s1 at 1200 rpm, m³/h, one point a check",
        "Nozzle chamber · method control chart · 26 checks",
        "Free airflow", "m³/h",
        tuple(points),
        (CheckEra("era 1", "", "2026-03-25T07:50"), CheckEra("era 2", "2026-03-25T07:50", "")),
        events,
        alt="Control chart of the free airflow.",
    )  # fmt: skip


def numbered() -> CurveChart:
    """The three fans of `pq` with a number at each operating point, and all crossings of one that isn't unique."""
    chart = pq()
    marks = tuple(
        OperatingMark(
            each.label, each.flow, each.pressure, each.flow_low, each.flow_high, is_unique=each.is_unique,
            word=each.word, curve=each.curve, load=each.load, accent=each.accent,
            crossings=() if each.is_unique else (
                (each.flow - 6, each.pressure - 3, True), (each.flow - 3, each.pressure - 2, False),
                (each.flow, each.pressure, True),
            ),
            number=index,
        )
        for index, each in enumerate(chart.points, start=1)
    )  # fmt: skip
    return CurveChart(
        chart.title, chart.subtitle, chart.footer, "airflow", "m³/h", "static pressure", "Pa", chart.curves,
        chart.loads, marks, ("Through mesh filter, m³/h: 1 Bracken 90, 4 Tormentil 88, 7 Sedge 87.",), chart.alt,
    )  # fmt: skip
