"""Invented charts of sound for the tests: a fan with a resonance, its spectrum, its ramp, and five fans."""

from __future__ import annotations

import math

import numpy as np

from stillroom.charts.series import Bar, Bound, RankedBars
from stillroom.charts.sound.series import (
    AvoidBand,
    LevelChart,
    LevelLine,
    LevelPoint,
    LimitLine,
    LimitMark,
    OrderLine,
    RampChart,
    SpectrumBand,
    SpectrumChart,
    ToneMark,
    TradeChart,
    TradeLine,
    TradeTick,
)

FOOT = "Nothing but fabricated numbers, 0.5 m · 1 sample, two mountings · 95 % intervals · 25 November 2026"
FANS = ("Bracken 120 Pro", "Sedge R12", "Tormentil 120", "Moor Grass Quiet Edition", "Crowberry")


def level(speed: float, at_1500: float = 31.0, bump: float = 7.0, where: float = 1210.0) -> float:
    """A fan's level [dBA] at a speed [rpm], with a resonance, over a floor of 17 dBA."""
    own = at_1500 + 53.0 * math.log10(speed / 1500.0)
    own += bump * math.exp(-(((speed - where) / 75.0) ** 2))
    return own


def line(label: str, at_1500: float, bump: float, where: float, *, accent: bool = False) -> LevelLine:
    """Level against speed of one fan, with dwells of which the quietest are bounds."""
    speeds = tuple(450.0 + 1500.0 * k / 120 for k in range(121))
    levels = tuple(max(level(each, at_1500, bump, where), 18.5) for each in speeds)
    half = tuple(0.7 + 0.5 * abs(math.sin(each / 90.0)) for each in speeds)
    dwells = (500.0, 650.0, 800.0, 950.0, 1100.0, 1200.0, 1350.0, 1500.0, 1700.0, 1900.0)
    points = []
    for each in dwells:
        own = max(level(each, at_1500, bump, where), 18.5)
        bound = Bound.AT_MOST if own < 20.0 else Bound.NONE
        points.append(LevelPoint(each, own + 0.2 * math.sin(each), own - 0.9, own + 0.9, bound))
    return LevelLine(
        label,
        speeds,
        levels,
        tuple(y - h for y, h in zip(levels, half, strict=True)),
        tuple(y + h for y, h in zip(levels, half, strict=True)),
        tuple(y < 20.0 for y in levels),
        tuple(points),
        tuple((x, y + 0.5 * math.sin(3.1 * x)) for x, y in zip(speeds[20:], levels[20:], strict=True)),
        accent,
    )


LIMITS = tuple(LimitLine(each, f"{each:.0f} dBA") for each in (25.0, 30.0, 35.0))


def levels() -> LevelChart:
    """One fan with a resonance through two limits."""
    return LevelChart(
        "Bracken 120 Pro should not run between 1090 and 1330 rpm",
        "Level at 0.5 m against speed in free air, dBA; band and lines show 95 %",
        FOOT,
        "Speed", "rpm", "Level at 0.5 m", "dBA",
        (line("Bracken 120 Pro", 31.0, 7.0, 1210.0, accent=True),),
        LIMITS,
        (
            LimitMark(1437.0, 30.0, 1410.0, 1462.0, "1437 rpm", "Bracken 120 Pro"),
            LimitMark(1784.0, 35.0, 1752.0, 1816.0, "1784 rpm", "Bracken 120 Pro"),
        ),
        (AvoidBand(1090.0, 1330.0, "avoid 1090–1330 rpm"),),
        18.0,
        "noise floor 18 dBA",
        ("At most: the background lies less than 6 dB below, so the level is no higher than that.",),
        "Level against speed of Bracken 120 Pro.",
    )  # fmt: skip


def many_levels() -> LevelChart:
    """Five fans, each with its own resonance."""
    lines = tuple(
        line(name, 29.0 + 1.6 * index, 2.0 * index, 900.0 + 180.0 * index, accent=index == 2)
        for index, name in enumerate(FANS)
    )
    avoid = (AvoidBand(1210.0, 1330.0, "Tormentil 120: 1210–1330 rpm", FANS[2]),
             AvoidBand(1370.0, 1530.0, "Moor Grass Quiet Edition: 1370–1530 rpm", FANS[3]),
             AvoidBand(1540.0, 1710.0, "Crowberry: 1540–1710 rpm", FANS[4]))  # fmt: skip
    return LevelChart(
        "Three of five fans have a resonance between 1210 and 1710 rpm",
        "Level at 0.5 m against speed in free air, dBA; bands show 95 %",
        FOOT, "Speed", "rpm", "Level at 0.5 m", "dBA", lines, LIMITS, (), avoid, 18.0, "noise floor 18 dBA",
        ("To avoid: " + "; ".join(each.words for each in avoid) + ".",),
        "Level against speed of five fans.",
    )  # fmt: skip


NOMINAL = ("20", "25", "31.5", "40", "50", "63", "80", "100", "125", "160", "200", "250", "315", "400", "500",
           "630", "800", "1000", "1250", "1600", "2000", "2500", "3150", "4000", "5000", "6300", "8000", "10000",
           "12500", "16000", "20000")  # fmt: skip


def spectrum() -> SpectrumChart:
    """A hump at 800 Hz with a blade pass at 222 Hz and a motor tone; the lowest and highest bands are bounds."""
    bands = []
    for index, name in enumerate(NOMINAL):
        middle = 1000.0 * 10.0 ** ((index - 17) / 10.0)
        background = 4.0 + 9.0 * math.exp(-(((index - 6) / 6.0) ** 2)) + 0.5 * math.sin(index)
        own = 27.0 - 0.09 * (index - 16) ** 2 + math.sin(2.0 * index)
        own += 9.0 if name == "200" else 6.0 if name == "2500" else 0.0
        is_bound = own < background + 6.0
        own = max(own, background + 0.8)
        edge = 10.0**0.05
        bands.append(
            SpectrumBand(
                name, middle / edge, middle * edge, own, Bound.AT_MOST if is_bound else Bound.NONE, background
            )
        )
    return SpectrumChart(
        "At 1480 rpm Bracken 120 Pro has a tone at its blade pass, 222 Hz",
        "One-third-octave levels at 0.5 m, A-weighted; 35.2 dBA in all; 48 % duty, free air",
        FOOT,
        "Band level at 0.5 m", "dBA",
        "Bracken 120 Pro",
        tuple(bands),
        (ToneMark(222.0, "blade pass 222 Hz"), ToneMark(444.0, "2 × blade pass 444 Hz"),
         ToneMark(2470.0, "motor 2470 Hz")),
        ("At most: the background lies less than 6 dB below.",),
        "Band levels of Bracken 120 Pro before its background.",
    )  # fmt: skip


def ramp(columns: int = 480, rows: int = 320) -> RampChart:
    """A ramp from 500 to 2000 rpm with nine blades: blade pass, harmonic, motor, a resonance at 190 Hz."""
    rng = np.random.default_rng(5)
    speed = 500.0 + 1500.0 * (np.arange(columns) + 0.5) / columns
    low, high = 40.0, 5000.0
    frequency = low * (high / low) ** ((np.arange(rows) + 0.5) / rows)
    power = 10.0 ** (
        (53.0 * np.log10(speed / 1500.0)[None, :] + 18.0 - 6.0 * np.abs(np.log2(frequency / 700.0))[:, None])
        / 10.0
    )
    for order, tone in ((9.0, 30.0), (18.0, 21.0), (12.0, 17.0), (48.0, 20.0)):
        line_at = order * speed / 60.0
        peak = tone + 50.0 * np.log10(speed / 1500.0) + 14.0 * np.exp(-(((line_at - 190.0) / 18.0) ** 2))
        power = power + 10.0 ** (peak[None, :] / 10.0) * np.exp(
            -((np.log(frequency[:, None] / line_at[None, :]) / 0.016) ** 2)
        )
    power = (power + 10.0**-0.2) * rng.gamma(6.0, 1.0 / 6.0, power.shape)
    cells = (10.0 * np.log10(power)).astype(np.float32)
    ends = tuple(500.0 + 25.0 * k for k in range(61))
    orders = tuple(
        OrderLine(label, ends, tuple(order * each / 60.0 for each in ends))
        for label, order in (
            ("blade pass", 9.0),
            ("2 × blade pass", 18.0),
            ("12 × shaft", 12.0),
            ("motor", 48.0),
        )
    )
    return RampChart(
        "Bracken 120 Pro rings where its blade pass crosses 190 Hz: 1190 to 1350 rpm",
        "Spectrogram of a ramp from 500 to 2000 rpm at 0.5 m, free air; level of bands of 1.5 Hz",
        FOOT,
        "Speed", "rpm", 500.0, 2000.0, low, high, cells, 0.0, 40.0, "level, unweighted",
        orders,
        (AvoidBand(1190.0, 1350.0, "resonance 1190–1350 rpm"),),
        tuple((float(x), level(float(x))) for x in speed[::4]),
        (),
        "Spectrogram of a ramp of Bracken 120 Pro.",
    )  # fmt: skip


def tradeoff(count: int = 5) -> TradeChart:
    """Up to five fans through a radiator, two of them with a fold."""
    lines = []
    for index, name in enumerate(FANS[:count]):
        speeds = tuple(750.0 + 1150.0 * k / 100 for k in range(101))
        own = tuple(level(x, 30.0 + 0.9 * index, (8.0, 0.0, 5.0, 0.0, 2.0)[index], 1210.0) for x in speeds)
        flows = tuple((0.034 - 0.0009 * index) * x for x in speeds)
        ticks = []
        for limit in (25.0, 30.0, 35.0):
            below = [k for k, y in enumerate(own) if y <= limit]
            if below and below[-1] < 100:
                k = below[-1]
                half = 0.021 * flows[k]
                ticks.append(
                    TradeTick(limit, limit, limit, flows[k], flows[k] - half, flows[k] + half,
                              f"{limit:.0f} dBA", speeds[k])
                )  # fmt: skip
        lines.append(
            TradeLine(name, speeds, own, flows, tuple(y < 18.0 for y in own), tuple(ticks), index == 0)
        )
    return TradeChart(
        "At 30 dBA Sedge R12 moves the most air through the 27 mm radiator",
        "Airflow through rad27 against level at 0.5 m along the speed; free-air noise; lines show 95 %",
        FOOT,
        "Level at 0.5 m", "dBA", "Airflow", "m³/h",
        tuple(lines),
        LIMITS,
        alt="Airflow against noise of five fans.",
    )  # fmt: skip


def quiet_bars() -> RankedBars:
    """A ranking at a limit: one tops out, one has a bound, one a resonance, two can't run so quiet."""
    told = (
        ("Sedge R12", 47.1, "1 sample"),
        ("Bracken 120 Pro", 46.4, "avoid 1090–1330 rpm"),
        ("Tormentil 120", 45.9, ""),
        ("Moor Grass Quiet Edition", 41.3, "tops out at 31 dBA"),
        ("Crowberry", 40.2, "tone at 222 Hz"),
        ("Heather Static", 33.0, "at least"),
    )
    bars = tuple(
        Bar(name, value, value - 1.2, value + 1.1, "too close to call" if index < 3 else "", index < 3, note,
            accent=index == 1, bound=Bound.AT_LEAST if note == "at least" else Bound.NONE)
        for index, (name, value, note) in enumerate(told)
    )  # fmt: skip
    gone = tuple(
        Bar(name, 0.0, None, None, note="can’t run this quiet", is_missing=True)
        for name in ("Juniper Low", "Asphodel S")
    )
    return RankedBars(
        "At 35 dBA through the 27 mm radiator three fans can’t be told apart",
        "Airflow through the 27 mm radiator, m³/h, at 35 dBA at 0.5 m, at 1.2 kg/m³",
        "longer is better", FOOT, "m³/h", (*bars, *gone), (), "Bar chart of airflow at 35 dBA at 0.5 m.", "Airflow",
    )  # fmt: skip
