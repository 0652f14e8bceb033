"""The data tables of the charts of heat."""

from __future__ import annotations

from stillroom import wording
from stillroom.charts.cells import Table
from stillroom.charts.heat.series import AgreementChart, SettlingChart, SettlingStep

RECORD_ROWS = 240
"""The most places of a record that its table lists."""


def settling(chart: SettlingChart) -> Table:
    """Each step's final value, what happened, then the record thinned."""
    unit = f" [{chart.y_unit}]"
    columns = ("Setting", "Kind", f"From [{chart.x_unit}]", f"To [{chart.x_unit}]", f"{chart.y_label}{unit}",
               f"95 % from{unit}", f"95 % to{unit}", f"Steady since [{chart.x_unit}]", "Note")  # fmt: skip
    rows: list[tuple[str, ...]] = []
    for step in chart.steps:
        since = "" if step.since is None else wording.number(step.since, 1)
        reach = (wording.number(step.first, 1), wording.number(step.last, 1))
        rows.append((step.setting, step.how.value, *reach, *_value(step), since, step.word))
    for words, stretches in (("left out", chart.left_out), ("gap", chart.gaps)):
        rows += [("", words, wording.number(first, 1), wording.number(last, 1), *[""] * 5)
                 for first, last in stretches]  # fmt: skip
    rows += [("", "mark", wording.number(each.time, 1), *[""] * 5, each.words) for each in chart.marks]
    thinned = -(-len(chart.time) // RECORD_ROWS)
    rows += [
        ("", "reading", wording.number(at, 1), "", wording.number(value, 2), *[""] * 4)
        for at, value in list(zip(chart.time, chart.value, strict=True))[::thinned]
    ]
    return Table(columns, tuple(rows), frozenset(range(2, 8)))


def _value(step: SettlingStep) -> tuple[str, str, str]:
    if step.value is None or step.low is None or step.high is None:
        return "", "", ""
    return _rounded(step.value, step.low, step.high)


def _rounded(value: float, low: float, high: float) -> tuple[str, str, str]:
    """A value and the ends of its interval, to the place that it allows."""
    if low == high:
        return wording.bare(value), wording.bare(low), wording.bare(high)
    places = wording.places_for((high - low) / 2)
    return wording.number(value, places), wording.number(low, places), wording.number(high, places)


def agreement(chart: AgreementChart) -> Table:
    """Every step with what was predicted, what was measured, and which rig disagrees."""
    unit = f" [{chart.unit}]"
    columns = ("Fan", "Setting", f"{chart.x_label}{unit}", f"95 % from{unit}", f"95 % to{unit}",
               f"{chart.y_label}{unit}", f"95 % from{unit}", f"95 % to{unit}", "Found", "Note")  # fmt: skip
    rows = tuple(
        (
            each.label,
            each.setting,
            *_rounded(each.predicted, each.predicted_low, each.predicted_high),
            *_rounded(each.measured, each.low, each.high),
            each.how.value,
            each.word,
        )
        for each in chart.points
    )
    return Table(columns, rows, frozenset(range(2, 8)))
