"""The data tables of the charts of obstacles, claims, checks and speed control."""

from __future__ import annotations

from stillroom import wording
from stillroom.charts.cells import Table
from stillroom.charts.further_series import CheckPoint, ClaimChart, ControlPicture, ObstacleChart
from stillroom.charts.response import DriveMark, ResponseChart


def obstacles(chart: ObstacleChart) -> Table:
    """Each obstacle's law with its parameters, then the fitted curve with its band, then the readings."""
    flow, drop = f"{chart.x_label} [{chart.x_unit}]", f"{chart.y_label} [{chart.y_unit}]"
    columns = (
        "Obstacle",
        "Kind",
        flow,
        drop,
        f"95 % from [{chart.y_unit}]",
        f"95 % to [{chart.y_unit}]",
        "Note",
    )
    rows: list[tuple[str, ...]] = []
    for curve in chart.curves:
        said = ", ".join(f"{name} = {value}" for name, value in curve.parameters)
        rows.append((curve.label, "law", "", "", "", "", f"{curve.law}: {said}" if said else curve.law))
    for curve in chart.curves:
        cells = zip(*map(wording.alike, (curve.flow, curve.drop, curve.low, curve.high)), strict=True)
        rows += [(curve.label, "fitted", *each, "") for each in cells]
        pairs = zip(*(wording.alike([at[axis] for at in curve.measured]) for axis in (0, 1)), strict=True)
        rows += [(curve.label, "reading", *each, "", "", "") for each in pairs]
    return Table(columns, tuple(rows), frozenset((2, 3, 4, 5)))


def claims(chart: ClaimChart) -> Table:
    """Every claim as printed, what was measured, the ratio and the verdict."""
    columns = ("Claim", "Box", "Condition", "Measured", "Measured / box [%]", "95 % from [%]", "95 % to [%]",
               "Verdict", "Basis")  # fmt: skip
    rows = []
    for row in chart.rows:
        ratios = ("", "", "")
        if row.ratio is not None and row.low is not None and row.high is not None:
            places = wording.places_for((row.high - row.low) / 2) if row.high > row.low else 1
            one, two, three = (wording.number(each, places) for each in (row.ratio, row.low, row.high))
            ratios = (one, two, three)
        rows.append((row.label, row.claim, row.condition, row.measured, *ratios, row.verdict, row.basis))
    return Table(columns, tuple(rows), frozenset((4, 5, 6)))


def control(chart: ControlPicture) -> Table:
    """Every check with the limits by which it was judged, then the events."""
    unit = f" [{chart.y_unit}]"
    columns = ("Date", f"{chart.y_label}{unit}", f"Centre{unit}", f"Limit from{unit}", f"Limit to{unit}",
               f"EWMA{unit}", f"EWMA from{unit}", f"EWMA to{unit}", "Era", "Signal")  # fmt: skip
    rows = [
        (each.date, wording.alike([each.value])[0], *_limits(each), each.era, each.signal)
        for each in chart.points
    ]
    rows += [(each.time, *[""] * 8, each.words) for each in chart.events]
    return Table(columns, tuple(rows), frozenset(range(1, 8)))


def _limits(point: CheckPoint) -> tuple[str, ...]:
    limits = point.limits
    if limits is None:
        return ("",) * 6
    return tuple(
        wording.alike(
            [limits.centre, limits.low, limits.high, limits.ewma, limits.ewma_low, limits.ewma_high]
        )
    )


def response(chart: ResponseChart) -> Table:
    """Where it starts and stops, the speed with the wire open, both ways, then what the specification expects."""
    drive, speed = f"{chart.x_label} [{chart.x_unit}]", f"{chart.y_label} [{chart.y_unit}]"
    columns = ("Kind", drive, f"From [{chart.x_unit}]", f"To [{chart.x_unit}]", speed,
               f"From [{chart.y_unit}]", f"To [{chart.y_unit}]", "Note")  # fmt: skip
    rows: list[tuple[str, ...]] = [
        (each.sign.name.lower(), _set(each.drive), *_reach(each), wording.number(each.speed), "", "", each.words)
        for each in chart.marks
    ]  # fmt: skip
    if chart.open_wire is not None:
        rows.append(("open wire", "", "", "", wording.number(chart.open_wire[0]), "", "", chart.open_wire[1]))
    for line in chart.lines:
        rows += [
            (line.label, _set(at), "", "", wording.number(value), "", "", "")
            for at, value in zip(line.drive, line.speed, strict=True)
        ]
    told = chart.specification
    if told is not None:
        rows += [
            ("specification", _set(at), "", "", *map(wording.number, values), told.words)
            for at, *values in zip(told.drive, told.speed, told.low, told.high, strict=True)
        ]
    return Table(columns, tuple(rows), frozenset(range(1, 7)))


def _reach(mark: DriveMark) -> tuple[str, str]:
    if mark.low is None or mark.high is None:
        return "", ""
    return _set(mark.low), _set(mark.high)


def _set(value: float) -> str:
    """A setting as it was set: all its digits, and no more."""
    return f"{value:g}".replace("-", wording.MINUS)
