"""Invented charts of heat and speed control for the tests: runs, heat against noise, agreement, a response."""

from __future__ import annotations

import math

import numpy as np
from sound_samples import FANS, FOOT, LIMITS, level

from stillroom.charts.further_series import CheckEra, CheckEvent, CheckLimits, CheckPoint, ControlPicture
from stillroom.charts.heat.series import (
    AgreementChart,
    AgreementPoint,
    ForecastBand,
    Settled,
    SettlingChart,
    SettlingMark,
    SettlingStep,
)
from stillroom.charts.response import (
    DriveMark,
    DriveSign,
    ResponseChart,
    ResponseLine,
    SpecificationBand,
)
from stillroom.charts.series import Bar, RankedBars
from stillroom.charts.sound.series import TradeChart, TradeLine, TradeTick

TAU = 7.0
"""Time constant of the rig [min]."""


def band(start: float, end: float, begin: float, final: float, half: float) -> ForecastBand:
    """An exponential from `begin` to `final` with a band that closes on ± `half`."""
    times = tuple(start + (end - start) * k / 60 for k in range(61))
    values = tuple(final + (begin - final) * math.exp(-(t - start) / TAU) for t in times)
    return ForecastBand(times, values, tuple(v - half for v in values), tuple(v + half for v in values))


def settling() -> SettlingChart:
    """Three settings: two steady, an opened door in the second, the third cut and forecast."""
    rng = np.random.default_rng(3)
    first = np.arange(0.0, 92.0, 0.05)
    finals, starts = (11.93, 13.84, 16.42), (0.0, 38.0, 76.0)
    values, before, slow = [], 0.4, 0.0
    for t in first:
        step = sum(t >= each for each in starts) - 1
        if t in starts and step:
            before = values[-1]
        slow = 0.98 * slow + 0.005 * float(rng.standard_normal())
        door = -0.9 * math.exp(-(t - 55.0) / 1.2) if t >= 55.0 else 0.0
        now = finals[step] + (before - finals[step]) * math.exp(-(t - starts[step]) / TAU)
        values.append(now + slow + door)
    return SettlingChart(
        "Bracken 120 Pro holds 300 W at 11.9 K over the room at full speed",
        "Temperature rise over air-in at 300 W on heat-1 against time; band: forecast, 95 %",
        FOOT,
        "Time", "min", "Rise over air-in", "K",
        "Bracken 120 Pro",
        tuple(round(float(t), 3) for t in first), tuple(values),
        (
            SettlingStep(0.0, 38.0, "100 %", Settled.MEASURED, 11.93, 11.85, 12.01, 27.0,
                         band(18.0, 38.0, 11.0, 11.93, 0.12)),
            SettlingStep(38.0, 76.0, "35 dBA · 1,410 rpm", Settled.MEASURED, 13.84, 13.75, 13.93, 68.0),
            SettlingStep(76.0, 92.0, "30 dBA · 1,130 rpm", Settled.FORECAST, 16.4, 16.0, 16.8, None,
                         band(76.0, 111.0, 13.84, 16.42, 0.4), "cut at 2.3 τ"),
        ),
        ((55.0, 59.0),),
        (),
        (SettlingMark(55.0, "door open, left out"),),
        ("The last step was cut early: its value is forecast, with its larger interval.",),
        "Temperature rise of Bracken 120 Pro against time.",
    )  # fmt: skip


def short_run() -> SettlingChart:
    """One setting that was cut too early to be forecast, with a gap in the logger."""
    times = tuple(k * 0.1 for k in range(110) if not 40 < k < 52)
    return SettlingChart(
        "Sedge R12 was cut before it could be forecast",
        "Temperature rise over air-in at 300 W on heat-1 against time",
        FOOT,
        "Time", "min", "Rise over air-in", "K",
        "Sedge R12",
        times, tuple(12.0 * (1.0 - math.exp(-t / TAU)) for t in times),
        (SettlingStep(0.0, 10.9, "100 %", Settled.NOT_STEADY, word="not steady: 1.6 τ, no forecast before 2 τ"),),
        gaps=((4.0, 5.2),),
    )  # fmt: skip


def heat_tradeoff(count: int = 5) -> TradeChart:
    """Heat against noise of up to five fans, two with a fold."""
    lines = []
    for index, name in enumerate(FANS[:count]):
        speeds = tuple(750.0 + 1150.0 * k / 100 for k in range(101))
        own = tuple(level(x, 30.0 + 0.9 * index, (8.0, 0.0, 5.0, 0.0, 2.0)[index], 1210.0) for x in speeds)
        rises = tuple((12.0 + 0.35 * index) * (x / 1500.0) ** -0.45 for x in speeds)
        ticks = []
        for limit in (25.0, 30.0, 35.0):
            below = [k for k, y in enumerate(own) if y <= limit]
            if below and below[-1] < 100:
                k = below[-1]
                ticks.append(
                    TradeTick(limit, limit, limit, rises[k], rises[k] - 0.22, rises[k] + 0.22,
                              f"{limit:.0f} dBA", speeds[k])
                )  # fmt: skip
        lines.append(
            TradeLine(name, speeds, own, rises, tuple(y < 18.0 for y in own), tuple(ticks), index == 0,
                      low=tuple(each - 0.15 for each in rises), high=tuple(each + 0.15 for each in rises))
        )  # fmt: skip
    return TradeChart(
        "At 35 dBA three fans are too close to call by heat on heat-1",
        "Temperature rise over air-in at 300 W against level at 0.5 m along the speed; bands and lines show 95 %",
        FOOT,
        "Level at 0.5 m", "dBA", "Rise over air-in", "K",
        tuple(lines),
        LIMITS,
        alt="Heat against noise of five fans.",
        cue="↓ lower is cooler",
    )  # fmt: skip


def agreement() -> AgreementChart:
    """Fourteen fans at three settings; one whose heat run disagrees."""
    rng = np.random.default_rng(8)
    points = []
    for fan in range(14):
        for step, setting in enumerate(("100 %", "35 dBA", "30 dBA")):
            predicted = 10.5 + 0.35 * fan + 2.2 * step
            measured = predicted + 0.12 * float(rng.standard_normal())
            off = fan == 6 and step == 1
            points.append(
                AgreementPoint(
                    FANS[fan % 5], predicted, predicted - 0.25, predicted + 0.25,
                    measured + 1.4 * off, measured + 1.4 * off - 0.2, measured + 1.4 * off + 0.2,
                    "heat-1 disagrees: check the paste" if off else "",
                    Settled.FORECAST if fan == 3 else Settled.MEASURED, fan == 2, setting,
                )
            )  # fmt: skip
    grid = tuple(9.0 + 0.5 * k for k in range(30))
    return AgreementChart(
        "Airflow and heat agree for all but one of 42 steps",
        "Rise over air-in at 300 W: predicted from airflow by R(Q) against measured; lines and band show 95 %",
        FOOT,
        "Predicted from airflow", "Measured", "K",
        tuple(points), grid, tuple(x - 0.6 for x in grid), tuple(x + 0.6 for x in grid),
        "agree within 0.6 K",
        alt="Predicted against measured.",
    )  # fmt: skip


def response() -> ResponseChart:
    """A fan that stops below 18 % and starts at 22 %, a little above the line of the specification."""
    duties = tuple(float(each) for each in (0, 5, 10, 15, 18, 20, 22, 25, 30, 40, 50, 60, 70, 80, 90, 100))
    full = 1850.0
    curve = [full * (0.06 + 0.94 * each / 100.0 + 0.05 * math.sin(each / 32.0)) for each in duties]
    up = tuple(0.0 if each < 22 else value for each, value in zip(duties, curve, strict=True))
    down = tuple(0.0 if each < 18 else value + 12.0 for each, value in zip(duties, curve, strict=True))
    line = tuple(float(each) for each in range(20, 101, 5))
    return ResponseChart(
        "Bracken 120 Pro starts at 22 % and runs down to 18 %, 438 rpm",
        "Speed against duty at 25 kHz, rising and falling; one sample, two mountings",
        FOOT,
        "Duty", "%", "Speed", "rpm",
        "Bracken 120 Pro",
        (ResponseLine("rising", duties, up), ResponseLine("falling", duties[::-1], down[::-1], True)),
        SpecificationBand("in proportion to the duty, ± 10 % of full speed", line,
                          tuple(full * each / 100 for each in line),
                          tuple(full * (each / 100 - 0.1) for each in line),
                          tuple(full * (each / 100 + 0.1) for each in line)),
        (
            DriveMark(22.0, 0.0, "starts at 20–22 %", DriveSign.START, 20.0, 22.0),
            DriveMark(15.0, 0.0, "stops at 15–18 %", DriveSign.STOP, 15.0, 18.0),
            DriveMark(18.0, down[4], "lowest 444 rpm at 18 %", DriveSign.LOWEST),
        ),
        (1862.0, "wire open: 1,862 rpm"),
        ("Started 20 of 20 times at 22 %: at least 86 % of the time, 95 % confidence.",),
        "Speed of Bracken 120 Pro against duty.",
    )  # fmt: skip


def heat_bars() -> RankedBars:
    """A ranking of heat at a limit: five tied, one tops out, two can't run so quiet."""
    told = (
        ("Sedge R12", 13.1, ""), ("Bracken 120 Pro", 13.2, ""), ("Tormentil 120", 13.3, "forecast"),
        ("Moor Grass Quiet Edition", 13.4, "tops out at 31 dBA"), ("Crowberry", 13.5, "1 sample"),
        ("Heather Static", 15.6, ""), ("Bog Myrtle 25", 17.9, ""),
    )  # fmt: skip
    bars = tuple(
        Bar(name, value, value - 0.3, value + 0.3, "too close to call" if index < 5 else "", index < 5, note,
            accent=index == 1)
        for index, (name, value, note) in enumerate(told)
    )  # fmt: skip
    gone = tuple(
        Bar(name, 0.0, None, None, note="can’t run this quiet", is_missing=True)
        for name in ("Juniper Low", "Asphodel S")
    )
    return RankedBars(
        "At 35 dBA five fans are tied",
        "Temperature rise over air-in at 300 W on heat-1, K, at 35 dBA at 0.5 m",
        "← shorter is cooler", FOOT, "K", (*bars, *gone), (), "Bar chart of heat.", "Rise over air-in",
    )  # fmt: skip


def heat_checks() -> ControlPicture:
    """A reference fan on the heat rig: two eras, a drift, a topped-up coolant."""
    rng = np.random.default_rng(4)
    points = []
    for k in range(28):
        era = "first coolant" if k < 16 else "new coolant"
        centre = 12.1 if k < 16 else 11.8
        value = centre + 0.06 * float(rng.standard_normal()) + (0.05 * max(0, k - 22) if k > 22 else 0.0)
        judged = (k if k < 16 else k - 16) >= 10
        mean = centre + 0.02 + 0.03 * max(0, k - 23)
        limits = CheckLimits(centre, centre - 0.2, centre + 0.2, mean, centre - 0.08, centre + 0.08)
        date, signal = f"2026-{9 + k // 14:02d}-{1 + 2 * (k % 14):02d}", "drifts up" if k == 27 else ""
        points.append(CheckPoint(date, value, limits if judged else None, signal, era))
    return ControlPicture(
        "The reference fan on heat-1 drifts up since 20 October",
        "Temperature rise over air-in of the reference fan at 1,500 rpm and 300 W on heat-1",
        FOOT, "Rise over air-in", "K", tuple(points),
        (CheckEra("first coolant", "", "2026-10-04"), CheckEra("new coolant", "2026-10-05", "")),
        (
            CheckEvent("2026-09-12", "coolant topped up"),
            CheckEvent("2026-10-05T09:00", "coolant changed", True),
            CheckEvent("2026-10-20", "pump speed looked at"),
        ),
        alt="Control chart of heat.",
    )  # fmt: skip
