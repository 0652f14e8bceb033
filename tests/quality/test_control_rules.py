"""Rules 19, 20, 21, 43 and 51 for tests of the control: what they find, and what they leave alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stillroom.core.control.control_mounting import (
    ControlMounting,
    Drive,
    How,
    Response,
    StartCount,
    Threshold,
)
from stillroom.quality import Finding
from stillroom.quality.control import ControlledFan, ControlledMounting, TableFacts, check_control
from stillroom.records.limits import Limits

FULL = 30.0
LIMITS = Limits()
LINE = Response(np.array([1.0, 0.2]), np.array([FULL, 6.0]), np.array([0.1, 0.1]))
GOOD = StartCount(0.2, 10, 10, 0.741, from_rest=True, cold=True)


def control(full: float = FULL, count: StartCount | None = GOOD, kind: str = "duty") -> ControlMounting:
    starts = (count,) if count else ()
    start = Threshold(None, count.setting, How.ATTEMPTS) if count else None
    setting = 1.0 if kind == "duty" else 12.0
    drive = Drive(kind, LINE, LINE, full, 0.1, setting, 0.2, 6.0, 0.1, None, start, starts, None, None, None, None,
                  None, None, {})  # fmt: skip
    return ControlMounting({kind: drive}, None, None)


STEPS = TableFacts(run="a1", key="k1", file="steps.csv", table="steps", control="duty", pwm_frequency=25e3,
                   supply=(11.95, 12.05))  # fmt: skip


def found(
    *tables: TableFacts, told: ControlMounting | None = None, box: float | None = FULL, limits: Limits = LIMITS,
    pulses: int | None = 2,
) -> list[Finding]:  # fmt: skip
    mounting = ControlledMounting(
        name="Rush-s1-c1",
        fan="Rush",
        sample="s1",
        judged="j1",
        blocked_as="control of Rush-s1-c1",
        tables=tables or (STEPS,),
        control=told or control(),
    )
    return check_control(
        ControlledFan(name="Rush", mountings=(mounting,), pulses=pulses, full_speed=box, limits=limits)
    )


def only(several: list[Finding]) -> Finding:
    assert len(several) == 1, several
    return several[0]


def test_a_good_test_has_no_finding() -> None:
    assert found() == []


# --- 20: pulses per revolution, overflow


@pytest.mark.parametrize(
    ("ratio", "words"), [(2.0, "twice"), (0.5, "half"), (1.5, "1.5 times"), (3.0, "three times")]
)
def test_wrong_pulses_by_the_optical_tachometer(ratio: float, words: str) -> None:
    pairs = ((30.0 * ratio, 30.0), (15.0 * ratio * 1.002, 15.0))
    one = only(found(replace(STEPS, pairs=pairs)))
    assert (one.rule, one.blocks, one.mountings) == (20, True, ("control of Rush-s1-c1",))
    assert f"the speed reads {words} what it is" in one.cause
    assert f"{2 * ratio:g} would fit where 2 were reckoned with" in one.cause


@pytest.mark.parametrize(("off", "rules"), [(0.0049, []), (0.0052, [20]), (-0.0052, [20])])
def test_the_optical_tachometer_holds_within_half_a_per_cent(off: float, rules: list[int]) -> None:
    assert [each.rule for each in found(replace(STEPS, pairs=((30.0 * (1 + off), 30.0),)))] == rules


def test_a_coarse_display_is_no_contradiction() -> None:
    """30 rpm in 600: 2 u of its rounding is 2.9 %."""
    assert found(replace(STEPS, pairs=((10.2, 10.0),), resolution=0.5)) == []


@pytest.mark.parametrize(
    ("full", "rules"), [(60.0, [20]), (15.0, [20]), (45.0, [20]), (90.0, [20]), (33.0, []), (27.0, [])]
)
def test_full_speed_in_a_multiple_of_the_box(full: float, rules: list[int]) -> None:
    assert [each.rule for each in found(told=control(full))] == rules


def test_a_voltage_at_half_supply_is_no_full_speed() -> None:
    slow = control(15.0, kind="volts")
    slow.drives["volts"] = replace(slow.drives["volts"], full_setting=6.0)
    assert found(replace(STEPS, control="volts", supply=None), told=slow) == []


def test_without_a_box_other_mountings_tell() -> None:
    mountings = tuple(
        ControlledMounting(name=f"Rush-s1-c{i}", fan="Rush", sample="s1", judged=f"j{i}", blocked_as=f"control of {i}",
                           tables=(STEPS,), control=control(full))
        for i, full in enumerate((30.0, 30.1, 60.0))
    )  # fmt: skip
    one = only(check_control(ControlledFan(name="Rush", mountings=mountings)))
    assert (one.rule, one.subject) == (20, "mounting:Rush-s1-c2")


def test_a_display_at_its_end_is_an_overflow() -> None:
    one = only(found(replace(STEPS, overflow=9999 / 60.0, overflows=3)))
    assert (one.rule, one.blocks) == (20, True)
    assert "3 times the speed reads 9999" in one.found


# --- 21: generator and supply


@pytest.mark.parametrize(
    ("frequency", "rules"),
    [(2500.0, [21]), (20.9e3, [21]), (21e3, []), (28e3, []), (28.1e3, [21]), (None, [])],
)
def test_the_frequency_of_the_control_signal(frequency: float | None, rules: list[int]) -> None:
    """21 to 28 kHz: 4-Wire PWM Controlled Fans Specification, page 9."""
    assert [each.rule for each in found(replace(STEPS, pwm_frequency=frequency))] == rules


def test_a_tenth_of_the_frequency_names_a_range_switch() -> None:
    one = only(found(replace(STEPS, pwm_frequency=2500.0)))
    assert one.blocks
    assert "a tenth of 25 kHz" in one.cause
    assert one.common == "the PWM generator is set to another frequency"


def test_steps_of_the_supply_have_no_generator() -> None:
    assert found(replace(STEPS, control="volts", pwm_frequency=2500.0, supply=None)) == []


@pytest.mark.parametrize(
    ("supply", "severity"),
    [
        ((11.9, 12.1), None),
        ((11.85, 12.0), "W"),
        ((12.0, 12.2), "W"),
        ((11.3, 12.0), "B"),
        ((12.0, 12.7), "B"),
    ],
)
def test_the_supply_at_the_connector(supply: tuple[float, float], severity: str | None) -> None:
    """± 5 % is the specification's (page 9), ± 0.1 V tighter by practice."""
    told = found(replace(STEPS, supply=supply))
    assert [(each.rule, each.severity.value[:1].upper()) for each in told] == (
        [] if severity is None else [(21, severity)]
    )


# --- 19: unsteady steps


@pytest.mark.parametrize(
    ("speed", "scatter", "count"), [(20.0, 0.0049, 0), (20.0, 0.0051, 1), (9.0, 0.0099, 0), (9.0, 0.0101, 1)]
)
def test_unsteady_steps(speed: float, scatter: float, count: int) -> None:
    told = found(replace(STEPS, unsettled=((0.5, speed, scatter),)))
    assert [each.rule for each in told] == [19] * count
    assert not any(each.blocks for each in told)


def test_many_unsteady_steps_block() -> None:
    rows = tuple((0.1 * i, 20.0, 0.02) for i in range(4, 9))
    assert only(found(replace(STEPS, unsettled=rows))).blocks


# --- 51: start tests


@pytest.mark.parametrize(
    ("count", "words"),
    [
        (replace(GOOD, attempts=9, started=9, bound=0.717), "9 of 9 attempts, which prove at least 72 %"),
        (replace(GOOD, from_rest=False), "less than 5 s at rest"),
        (replace(GOOD, from_rest=None), "not told whether from rest"),
        (replace(GOOD, cold=False), "not from cold"),
        (replace(GOOD, cold=None), "not told whether from cold"),
    ],
)
def test_a_start_test_that_proves_little_is_marked(count: StartCount, words: str) -> None:
    one = only(found(told=control(count=count)))
    assert (one.rule, one.blocks) == (51, False)
    assert words in one.found


def test_without_start_attempts_nothing_is_said_of_them() -> None:
    assert found(told=control(count=None)) == []


def test_a_lab_may_ask_for_more_attempts() -> None:
    one = only(found(limits=Limits(start_attempts=29.0)))
    assert one.rule == 51
    assert "limit of this lab" in one.expected


# --- 43: warm-up


@pytest.mark.parametrize(("minutes", "count"), [(4.9, 1), (5.0, 0), (None, 0)])
def test_a_response_taken_too_soon(minutes: float | None, count: int) -> None:
    seconds = None if minutes is None else 60.0 * minutes
    assert [each.rule for each in found(replace(STEPS, warm_up=seconds))] == [43] * count


def test_start_attempts_need_no_warm_up() -> None:
    assert found(replace(STEPS, table="starts", warm_up=0.0)) == []
