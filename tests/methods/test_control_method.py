"""From tables to a mounting's control behaviour, by cases that can be worked out by hand."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest

from stillroom.core.control.control_mounting import Behaviour, How
from stillroom.core.control.starts import Attempt
from stillroom.methods.airflow.chain import RECTANGULAR, Chain
from stillroom.methods.control.kept import control_of, control_parts
from stillroom.methods.control.mounting import NOTHING, reduce_control
from stillroom.methods.control.told import Table, Told

TACHOMETER = Chain("tachometer", relative=0.01)
SHUNT = Chain("shunt", relative=0.02)


def table(
    columns: Mapping[str, list[float]],
    kind: Table = Table.STEPS,
    *,
    attempts: tuple[Attempt, ...] = (),
    open_wire: tuple[int, ...] = (),
    control: str = "",
    chain: Chain = TACHOMETER,
) -> Told:
    arrays = {name: np.array(values) for name, values in columns.items()}
    size = len(next(iter(arrays.values())))
    flags = np.zeros(size, dtype=bool)
    flags[list(open_wire)] = True
    return Told("run", "key", "file.csv", kind, arrays, (), flags, attempts, chain, SHUNT, control)


DUTIES = [1.0, 0.8, 0.6, 0.4, 0.2, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0]
SPEEDS = [30.0, 25.0, 20.0, 13.0, 7.0, 0.0, 0.0, 13.0, 19.0, 25.0, 30.0]


def test_a_response_both_ways() -> None:
    found = reduce_control([table({"duty": DUTIES, "speed": SPEEDS, "voltage": [12.0] * 11})]).control
    assert found is not None
    drive = found.drives["duty"]
    assert (drive.full, drive.full_setting) == (30.0, 1.0)
    assert drive.stop is not None
    assert (drive.stop.low, drive.stop.high) == (0.1, 0.2)
    assert drive.start is not None
    assert (drive.start.low, drive.start.high, drive.start.how) == (0.2, 0.4, How.STEPS)
    assert (drive.lowest_setting, drive.lowest) == (0.2, 7.0)
    assert drive.slowest == pytest.approx(7.0 - (13.0 - 7.0) / 0.2 * 0.1)
    assert drive.hysteresis == pytest.approx(1.0 / 30.0)
    assert drive.hysteresis_at == 0.6
    assert drive.behaviour is Behaviour.STOPS
    assert drive.linearity is not None
    assert drive.linearity.departure == pytest.approx(20.0 / 30.0 - 0.6)
    assert drive.lowest_shared == {"instrument/tachometer/gain": pytest.approx(-0.01 * RECTANGULAR * 7.0)}


def test_what_is_kept_is_what_was_found() -> None:
    told = [
        table({"duty": [*DUTIES, float("nan")], "speed": [*SPEEDS, 30.3]}, open_wire=(11,)),
        table({"duty": [0.2] * 2}, Table.STARTS, attempts=(Attempt(0.2, 10, 9, 30.0, True),), control="duty"),
        table({"time": np.arange(0.0, 1.0, 0.002).tolist(), "current": _inrush()}, Table.INRUSH),
    ]
    found = reduce_control(told).control
    assert found is not None
    assert control_parts(control_of(control_parts(found))) == control_parts(found)


def _inrush() -> list[float]:
    times = np.arange(0.0, 1.0, 0.002)
    return (0.12 + 1.4 * np.exp(-times / 0.08)).tolist()


def test_an_open_wire_beside_full_speed() -> None:
    told = table({"duty": [*DUTIES, float("nan")], "speed": [*SPEEDS, 30.3]}, open_wire=(11,))
    found = reduce_control([told]).control
    assert found is not None
    assert found.open_wire is not None
    assert found.open_wire.share == pytest.approx(1.01)


def test_an_open_wire_without_full_duty_is_marked() -> None:
    told = table({"duty": [0.9, 0.5, float("nan")], "speed": [27.0, 15.0, 30.0]}, open_wire=(2,))
    found = reduce_control([told]).control
    assert found is not None
    assert found.open_wire is None
    assert any("full duty not taken" in each for each in found.marks)


def test_steps_of_the_supply() -> None:
    volts = [12.02, 9.0, 6.98, 5.01, 3.0, 5.02, 7.01, 9.01, 11.98]
    speeds = [30.0, 23.0, 17.0, 11.0, 0.0, 0.0, 17.0, 23.0, 30.0]
    found = reduce_control([table({"voltage": volts, "speed": speeds})]).control
    assert found is not None
    drive = found.drives["volts"]
    assert drive.start is not None
    assert (drive.start.low, drive.start.high) == (pytest.approx(5.0), pytest.approx(7.0))
    assert drive.stop is not None
    assert (drive.stop.low, drive.stop.high) == (pytest.approx(3.0), pytest.approx(5.0))
    assert drive.linearity is None


def test_a_duty_that_stays_while_the_supply_moves_is_no_setting() -> None:
    told = table({"duty": [1.0] * 4, "voltage": [12.0, 9.0, 7.0, 5.0], "speed": [30.0, 23.0, 17.0, 11.0]})
    found = reduce_control([told]).control
    assert found is not None
    assert list(found.drives) == ["volts"]


def test_attempts_come_before_the_response() -> None:
    attempts = table(
        {"duty": [0.2]}, Table.STARTS, attempts=(Attempt(0.25, 10, 10, 30.0, True),), control="duty"
    )
    found = reduce_control([table({"duty": DUTIES, "speed": SPEEDS}), attempts]).control
    assert found is not None
    start = found.drives["duty"].start
    assert start is not None
    assert (start.low, start.high, start.how) == (
        0.2,
        0.25,
        How.ABOVE_STANDING,
    )  # it stood at 20 % as it rose
    assert control_parts(control_of(control_parts(found))) == control_parts(found)


def test_a_start_above_failed_attempts_is_the_upper_end() -> None:
    attempts = table(
        {"duty": [0.3]}, Table.STARTS, attempts=(Attempt(0.3, 10, 9, 30.0, True),), control="duty"
    )
    found = reduce_control([table({"duty": DUTIES, "speed": SPEEDS}), attempts]).control
    assert found is not None
    start = found.drives["duty"].start
    assert start is not None
    assert (start.low, start.high, start.how) == (0.3, 0.4, How.BOTH)


def test_attempts_from_a_turning_rotor_tell_no_start() -> None:
    attempts = table(
        {"duty": [0.1]}, Table.STARTS, attempts=(Attempt(0.1, 10, 10, 0.0, True),), control="duty"
    )
    found = reduce_control([table({"duty": DUTIES, "speed": SPEEDS}), attempts]).control
    assert found is not None
    start = found.drives["duty"].start
    assert start is not None
    assert start.how is How.STEPS


def test_peaks_that_were_read_off_are_a_bound() -> None:
    told = table({"duty": [0.2, 0.2], "peak_current": [0.6, 0.9]}, Table.STARTS,
                 attempts=(Attempt(0.2, 1, 1),), control="duty")  # fmt: skip
    found = reduce_control([told]).control
    assert found is not None
    assert found.inrush is not None
    assert found.inrush.is_bound
    assert (found.inrush.peak, found.inrush.u) == (0.9, pytest.approx(0.9 * 0.02 * RECTANGULAR))


def test_an_overflow_is_no_speed() -> None:
    told = table({"duty": [1.0, 0.5, 0.3], "speed": [30.0, 9999.0 / 60.0, 9.0]})
    found = reduce_control([told])
    assert found.runs[0]["overflow"] == pytest.approx(9999.0 / 60.0)
    assert found.control is not None
    response = found.control.drives["duty"].down
    assert response is not None
    assert response.settings.tolist() == [1.0, 0.3]


def test_a_table_that_tells_nothing_says_so() -> None:
    assert "one setting only" in reduce_control([table({"duty": [0.5, 0.5], "speed": [15.0, 15.0]})]).failed
    assert reduce_control([]).failed == NOTHING


def test_a_tachometer_that_nobody_told_of_is_marked() -> None:
    told = table(
        {"duty": [1.0, 0.5], "speed": [30.0, 15.0]}, chain=Chain("rig/speed", relative=0.05, known=False)
    )
    found = reduce_control([told]).control
    assert found is not None
    assert "accuracy of the tachometer not told" in found.marks
    assert "response with falling settings only" in found.marks
