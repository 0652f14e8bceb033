"""The data tables of the charts of sound."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stillroom import wording
from stillroom.charts.cells import Table
from stillroom.charts.sound.series import (
    LevelChart,
    LevelPoint,
    RampChart,
    SpectrumChart,
    TradeChart,
    TradeLine,
)

RAMP_ROWS = 120
"""The most places along a ramp that its table lists."""


def levels(chart: LevelChart) -> Table:
    """Where lines meet limits, bands to avoid, dwells, then the lines with their bands."""
    unit = f" [{chart.y_unit}]"
    columns = ("Fan", "Kind", f"{chart.x_label} [{chart.x_unit}]", "Bound", f"{chart.y_label}{unit}",
               f"95 % from{unit}", f"95 % to{unit}", "Note")  # fmt: skip
    rows: list[tuple[str, ...]] = []
    for mark in chart.marks:
        speed = wording.rounded(mark.speed, mark.low, mark.high)
        reach = wording.with_interval(mark.speed, mark.low, mark.high, chart.x_unit)
        rows.append((mark.line, "at a limit", speed, "", wording.bare(mark.level), "", "", reach))
    only = chart.lines[0].label if len(chart.lines) == 1 else ""
    rows += [(only, "to avoid", "", "", "", "", "", each.words) for each in chart.avoid]
    for line in chart.lines:
        rows += [(line.label, "dwell", wording.number(each.speed), each.bound.value, *_level(each), "")
                 for each in line.points]  # fmt: skip
    for line in chart.lines:
        bound = line.bound or (False,) * len(line.speed)
        lows, highs = (
            [wording.number(each, 1) for each in ends] if ends else [""] * len(line.speed)
            for ends in (line.low, line.high)
        )
        rows += [
            (
                line.label,
                "line",
                wording.number(speed),
                "≤" if flag else "",
                wording.number(level, 1),
                low,
                high,
                "",
            )
            for speed, flag, level, low, high in zip(line.speed, bound, line.level, lows, highs, strict=True)
        ]
    if chart.floor is not None:
        rows.append(("", "noise floor", "", "", wording.number(chart.floor, 1), "", "", chart.floor_words))
    return Table(columns, tuple(rows), frozenset((2, 4, 5, 6)))


def _level(point: LevelPoint) -> tuple[str, str, str]:
    if point.low is None or point.high is None:
        return wording.number(point.level, 1), "", ""
    return wording.number(point.level, 1), wording.number(point.low, 1), wording.number(point.high, 1)


def spectrum(chart: SpectrumChart) -> Table:
    """Every band with its background, then the prominent tones."""
    unit = f" [{chart.y_unit}]"
    columns = ("Band [Hz]", "Bound", f"{chart.label}{unit}", f"Background{unit}", "Note")
    rows = [
        (
            each.name,
            each.bound.value,
            wording.number(each.level, 1),
            "" if each.background is None else wording.number(each.background, 1),
            "",
        )
        for each in chart.bands
    ]
    rows += [
        (wording.bare(each.frequency), "", "", "", f"prominent tone: {each.words}") for each in chart.tones
    ]
    return Table(columns, tuple(rows), frozenset((0, 2, 3)))


def ramp(chart: RampChart) -> Table:
    """Along the ramp: its level, and the frequency and the level of each order."""
    columns = [f"{chart.x_label} [{chart.x_unit}]", f"Level [{chart.level_unit}]"]
    for order in chart.orders:
        columns += [f"{order.label} [Hz]", f"{order.label} [dB]"]
    step = max(1, -(-len(chart.levels) // RAMP_ROWS))
    rows = []
    for across, level in chart.levels[::step]:
        row = [wording.bare(across), wording.number(level, 1)]
        for order in chart.orders:
            row += _on_order(chart, order.across, order.frequency, across)
        rows.append(tuple(row))
    return Table(tuple(columns), tuple(rows), frozenset(range(len(columns))))


def _on_order(
    chart: RampChart, across: Sequence[float], frequencies: Sequence[float], at: float
) -> tuple[str, str]:
    """The frequency of an order at a place of the ramp, and the level of the cell there."""
    if not across[0] <= at <= across[-1]:
        return "", ""
    frequency = float(np.interp(at, across, frequencies))
    high, wide = chart.cells.shape
    row = np.log(frequency / chart.y_low) / np.log(chart.y_high / chart.y_low) * high
    column = (at - chart.x_low) / (chart.x_high - chart.x_low) * wide
    inside = 0 <= row < high
    level = float(chart.cells[int(row), min(int(column), wide - 1)]) if inside else float("nan")
    return wording.number(frequency, 1), wording.number(level, 1) if np.isfinite(level) else ""


def _band(line: TradeLine) -> list[tuple[str, str]]:
    """Both ends of a line's band at each of its places."""
    if not line.low:
        return [("", "")] * len(line.speed)
    return [(wording.bare(low), wording.bare(high)) for low, high in zip(line.low, line.high, strict=True)]


def tradeoff(chart: TradeChart) -> Table:
    """The places with intervals (limits first), then the lines along the speed."""
    level, value = f"{chart.x_label} [{chart.x_unit}]", f"{chart.y_label} [{chart.y_unit}]"
    columns = ("Fan", "Kind", f"Speed [{chart.speed_unit}]", "Bound", level, f"95 % from [{chart.x_unit}]",
               f"95 % to [{chart.x_unit}]", value, f"95 % from [{chart.y_unit}]", f"95 % to [{chart.y_unit}]",
               "Note")  # fmt: skip
    rows: list[tuple[str, ...]] = []
    for line in chart.lines:
        for tick in sorted(line.ticks, key=lambda each: not each.limit):
            values = (tick.value, tick.low, tick.high)
            places = wording.places_for((tick.high - tick.low) / 2) if tick.high > tick.low else 1
            rows.append((
                line.label, "at a limit" if tick.limit else "interval", wording.number(tick.speed), "",
                *(wording.number(each, 1) for each in (tick.level, tick.level_low, tick.level_high)),
                *(wording.number(each, places) for each in values), tick.limit,
            ))  # fmt: skip
    for line in chart.lines:
        bound = line.bound or (False,) * len(line.speed)
        rows += [
            (line.label, "line", wording.number(speed), "≤" if flag else "", wording.number(at, 1), "", "",
             wording.bare(value), *ends, line.word)
            for speed, flag, at, value, ends in zip(
                line.speed, bound, line.level, line.value, _band(line), strict=True
            )
        ]  # fmt: skip
    return Table(columns, tuple(rows), frozenset((2, 4, 5, 6, 7, 8, 9)))
