"""Measures of control of one mounting: thresholds as ranges, bounds where only one end is known, words for the rest."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stillroom.core.control.control_mounting import (
    Behaviour,
    ControlMounting,
    Drive,
    How,
    Inrush,
    Linearity,
    OpenWire,
    Response,
    StartCount,
    Threshold,
)
from stillroom.errors import NotPossible
from stillroom.measures import MEASURES, Origin
from stillroom.measures.control import control_value
from stillroom.records.settings import MARGINS

LINE = Response(np.array([1.0, 0.2]), np.array([30.0, 6.0]), np.array([0.1, 0.1]))
DRIVE = Drive(
    kind="duty",
    up=LINE,
    down=LINE,
    full=30.0,
    u_full=0.1,
    full_setting=1.0,
    lowest_setting=0.2,
    lowest=6.0,
    u_lowest=0.1,
    stop=Threshold(0.1, 0.2, How.STEPS),
    start=Threshold(0.2, 0.25, How.ATTEMPTS),
    starts=(StartCount(0.25, 10, 10, 0.741, from_rest=True, cold=True),),
    hysteresis=None,
    hysteresis_at=None,
    linearity=Linearity(-0.06, 0.001, 0.5, falling=True),
    behaviour=Behaviour.STOPS,
    falls_back=None,
    slowest=3.0,
    lowest_shared={"instrument/tachometer/gain": -0.05},
)


def control(drive: Drive = DRIVE, **others: object) -> ControlMounting:
    base = ControlMounting({drive.kind: drive}, None, None)
    return replace(base, **others)  # type: ignore[arg-type]


def test_a_start_is_a_range_with_what_the_attempts_prove() -> None:
    found = control_value(control(), "start-duty")
    assert (found.value, found.low, found.high) == (0.25, 0.2, 0.25)
    assert found.marks == ("10 of 10 attempts: at least 74 % start",)


def test_what_was_tried_is_said_with_where() -> None:
    failed = (StartCount(0.14, 10, 9, 0.606, from_rest=True, cold=True),)
    both = control_value(
        control(replace(DRIVE, start=Threshold(0.14, 0.16, How.BOTH), starts=failed)), "start-duty"
    )
    assert both.marks == (
        "9 of 10 attempts started at 14 %, at 16 % it started in the rising response, where none was made",
    )
    above = control_value(
        control(replace(DRIVE, start=Threshold(0.2, 0.25, How.ABOVE_STANDING))), "start-duty"
    )
    assert above.marks == (
        "10 of 10 attempts: at least 74 % start",
        "in the rising response it stood still at 20 %",
    )


def test_one_end_makes_a_bound() -> None:
    at_most = control_value(control(replace(DRIVE, start=Threshold(None, 0.2, How.STEPS))), "start-duty")
    assert (at_most.value, at_most.low, at_most.high) == (0.2, None, 0.2)
    at_least = control_value(control(replace(DRIVE, start=Threshold(0.3, None, How.ATTEMPTS))), "start-duty")
    assert (at_least.value, at_least.low, at_least.high) == (0.3, 0.3, None)


def test_where_it_stops_is_a_range_too() -> None:
    found = control_value(control(), "stop-duty")
    assert (found.value, found.low, found.high) == (0.1, 0.1, 0.2)
    lowest = control_value(control(), "lowest-duty")
    assert (lowest.value, lowest.low, lowest.high) == (0.2, 0.1, 0.2)


def test_a_fan_that_keeps_a_minimum_has_no_stop() -> None:
    keeps = replace(DRIVE, stop=Threshold(None, 0.0, How.STEPS), behaviour=Behaviour.KEEPS_MINIMUM, slowest=None,
                    lowest_setting=0.0)  # fmt: skip
    with pytest.raises(NotPossible, match="keeps a minimum speed"):
        control_value(control(keeps), "stop-duty")
    speed = control_value(control(keeps), "lowest-speed")
    assert (speed.value, speed.low, speed.high) == (6.0, 6.0, 6.0)
    assert control_value(control(keeps), "lowest-duty").low == 0.0


def test_full_speed_without_a_signal_is_told() -> None:
    goes = replace(DRIVE, stop=Threshold(None, 0.1, How.STEPS), behaviour=Behaviour.FULL_AT_ZERO)
    with pytest.raises(NotPossible, match="full speed with no control signal"):
        control_value(control(goes), "stop-duty")


def test_the_lowest_speed_lies_down_to_the_slope() -> None:
    found = control_value(control(), "lowest-speed")
    assert (found.value, found.low, found.high) == (6.0, 3.0, 6.0)
    assert found.is_interpolated
    assert found.loadings == {"instrument/tachometer/gain": -0.05}


def test_a_departure_counts_by_its_amount() -> None:
    found = control_value(control(), "linearity")
    assert found.value == 0.06
    assert found.marks == ("below the line at 50 % duty",)


def test_open_wire_and_inrush() -> None:
    told = control(
        open_wire=OpenWire(29.7, 0.1, 0.99, 0.004), inrush=Inrush(0.9, 0.01, True, None, None, None)
    )
    wire = control_value(told, "open-wire-speed")
    assert (wire.value, wire.u) == (0.99, 0.004)
    peak = control_value(told, "inrush")
    assert (peak.value, peak.low, peak.high) == (0.9, 0.9, None)


@pytest.mark.parametrize("measure", ["start-voltage", "stop-voltage", "open-wire-speed", "inrush"])
def test_what_was_not_tested_is_told(measure: str) -> None:
    with pytest.raises(NotPossible, match="no "):
        control_value(control(), measure)


def test_every_measure_of_control_can_be_taken_and_has_a_margin() -> None:
    names = [each.name for each in MEASURES if each.origin is Origin.CONTROL]
    assert len(names) == 9
    assert set(names) <= MARGINS.keys()
    both = ControlMounting({"duty": DRIVE, "volts": replace(DRIVE, kind="volts")}, OpenWire(30.0, 0.1, 1.0, 0.004),
                           Inrush(0.9, 0.01, False, 0.2, 0.1, 0.0))  # fmt: skip
    assert all(control_value(both, each).value > 0.0 for each in names)
