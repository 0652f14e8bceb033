"""What stands beside a value of a run that was not waited for, and what is not known on a rig; by closed forms."""

from __future__ import annotations

from dataclasses import replace

import pytest
from heat_world import Run, step

from stillroom.core.heat.heat_mounting import HeatMounting
from stillroom.lab.heat.asking import HeatAt, HeatFact, HeatOnRig
from stillroom.lab.heat.cases import _told_once
from stillroom.lab.heat.places import FORECAST, forecast_mark, place_of
from stillroom.measures import Condition, measure_named
from stillroom.verbs.heat_words import heat_table, unknown_heat_lines

CUT = step(Run("Dogwood", 14.0, forecast=(2000.0,)), 1, 2000.0)


@pytest.mark.parametrize(
    ("span", "rest"),
    [(4.0, "0.04"), (2.5, "0.16"), (8.0, "under 0.01")],  # 2 exp(−4) = 0.037, 2 exp(−2.5) = 0.164
)
def test_the_mark_tells_what_was_still_to_come(span: float, rest: str) -> None:
    told = {"amplitude": -2.0, "tau": 260.0, "start": 100.0, "end": 100.0 + span * 260.0}
    cut = replace(CUT, forecast=told)
    _, marks = place_of(HeatMounting((cut,), None, 300.0), Condition(), None).told(
        HeatMounting((cut,), None, 300.0)
    )
    assert marks == (f"forecast: {rest} K still to come at the end of the run",)


def test_without_a_kept_curve_it_says_no_more_than_that() -> None:
    assert forecast_mark([CUT]) == FORECAST


def test_of_several_mountings_the_most_unfinished_is_told() -> None:
    marks = [
        f"forecast: {rest} K still to come at the end of the run" for rest in ("0.03", "0.16", "under 0.01")
    ]
    assert _told_once([*marks, "greatest setting was 97 %"]) == [marks[1], "greatest setting was 97 %"]


def test_what_is_not_known_on_a_rig_is_one_line_for_a_reason() -> None:
    why = "steps up to 87 % alone; expected --speed, --duty or --noise"
    facts = tuple(HeatFact(measure_named(name), None, why) for name in ("heat", "conductance"))
    told = HeatOnRig("heat-1", {}, (HeatAt("at full setting", facts), HeatAt("at 35 dBA", facts)))
    assert heat_table(told, {}).rows == ()
    (line,) = unknown_heat_lines(told)
    assert line == (
        "Unknown on heat-1 at full setting and at 35 dBA: temperature rise: steps up to 87 % alone."
        " Needed: --speed, --duty or --noise"
    )
