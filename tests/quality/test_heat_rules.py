"""Each rule of heat on its fault, with its cause; and silent just inside its limit."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
from warm_facts import changed_steps, fan, found, mounting, step, the

from stillroom.core.heat.heat_mounting import StepHow
from stillroom.quality import Severity
from stillroom.quality.heat import (
    ClockFacts,
    ExpectedSpeed,
    Gust,
    LawFacts,
    check_heat,
    check_law,
    check_live,
)
from stillroom.quality.rules import BY_NUMBER
from stillroom.records.limits import Limits

B, W = Severity.BLOCKS, Severity.MARKS
DAY = 86_400.0
STEADY, FORECAST, NOT = StepHow.STEADY, StepHow.FORECAST, StepHow.NOT_STEADY


def test_nothing_is_found_where_nothing_is_wrong() -> None:
    assert check_heat(fan()) == []


# --- 34 ----------------------------------------------------------------------------------------------------


def test_a_run_cut_early_without_a_forecast_blocks() -> None:
    cut = changed_steps((3,), how=NOT, delta_nominal=float("nan"), span=1.4, forecast=None,
                        marks=("not steady: forecast: found 1.4 time constants; expected at least 2",))  # fmt: skip
    finding = the(mounting(steps=cut), rule=34)
    assert finding.severity is B
    assert finding.mountings == ("heat of fan-07-s1-h1",)
    assert finding.cause == "the run was cut before it was steady"
    assert "step 3 (80 %)" in finding.found
    assert "1.4 time constants" in finding.found


def test_a_run_cut_early_with_a_forecast_marks() -> None:
    told = {"final": 16.0, "u": 0.1, "amplitude": -8.0, "tau": 300.0, "start": 0.0, "end": 750.0}
    cut = changed_steps((4,), how=FORECAST, span=2.5, u_own=0.1, forecast=told)
    finding = the(mounting(steps=cut), rule=34)
    assert finding.severity is W
    assert finding.mountings == ()
    assert "+0.66 K beyond" in finding.found
    assert finding.cause == "the run was cut before it was steady"


def test_a_forecast_that_adds_nothing_is_as_good_as_measured() -> None:
    assert found(mounting(steps=changed_steps(how=FORECAST, u_own=0.02)), rule=34) == []


def test_a_long_run_that_is_not_steady_was_not_cut() -> None:
    moving = changed_steps((2,), how=NOT, forecast=None, steadiness={"slope": 0.0005, "tau": 300.0})
    assert "keeps moving" in the(mounting(steps=moving), rule=34).cause
    gusty = mounting(steps=moving, gusts=(Gust(3000.0, 3090.0, -1.5, 2),))
    assert "door" in the(gusty, rule=34).cause


@pytest.mark.parametrize(("left", "blocks"), [(0.09, False), (0.13, True)])
def test_steady_by_its_slope_while_its_course_goes_on(left: float, blocks: bool) -> None:
    told = step(1, 0.45).forecast
    assert told is not None
    steps = changed_steps((1,), forecast=dict(told) | {"final": told["final"] + left, "u": 0.02})
    assert [each.severity for each in found(mounting(steps=steps), rule=34)] == ([B] if blocks else [])


def test_a_step_that_still_runs_is_not_called_cut() -> None:
    growing = changed_steps((4,), how=NOT, span=0.8, forecast=None, delta_nominal=float("nan"))
    assert check_live(mounting(steps=growing, is_running=True), Limits()) == []


def test_a_mounting_that_could_not_be_worked_out() -> None:
    finding = the(replace(mounting(steps=()), failed="no hot probe"), rule=34)
    assert (finding.severity, "no hot probe" in finding.found) == (W, True)


# --- 35 ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changed", "severity", "cause"),
    [
        ({"air_drift": -0.51}, B, "the room's air conditioning"),
        ({"air_spread": 0.51}, B, "an air probe hangs in the warmed air"),
        ({"air": 273.15 + 26.1}, W, "too warm or too cold"),
        ({"air": 273.15 + 17.9}, W, "too warm or too cold"),
    ],
)
def test_the_air_going_in(changed: dict[str, float], severity: Severity, cause: str) -> None:
    finding = the(mounting(steps=changed_steps((2,), **changed)), rule=35)
    assert finding.severity is severity
    assert cause in finding.cause
    assert finding.test


@pytest.mark.parametrize(
    "changed",
    [
        {"air_drift": 0.49},
        {"air_spread": 0.49},
        {"air_spread": None},
        {"air": 273.15 + 25.9},
        {"air": 273.15 + 18.1},
    ],
)
def test_the_air_just_inside(changed: dict[str, float]) -> None:
    assert found(mounting(steps=changed_steps((2,), **changed)), rule=35) == []


def test_probes_may_read_as_far_apart_as_is_not_known_better() -> None:
    """Two probes of class 1, ± 0.5 K rectangular each: 2 u of their difference is 0.82 K (JCGM 100:2008, 4.3.7)."""
    u = float(np.hypot(0.5, 0.5) / np.sqrt(3.0))
    apart = changed_steps((2,), air_spread=0.81)
    assert the(mounting(steps=apart), rule=35).expected == "0.5 K at most"
    assert found(mounting(steps=apart, u_apart=u), rule=35) == []
    farther = the(mounting(steps=changed_steps((2,), air_spread=0.9), u_apart=u), rule=35)
    assert farther.expected == "0.82 K at most of probes that were not in one bath"


def test_what_is_told_is_beyond_what_is_expected() -> None:
    close = [{"air_spread": 0.504}, {"air_drift": -0.504}]
    texts = [the(mounting(steps=changed_steps((2,), **each)), rule=35).found for each in close]
    assert "up to 0.504 K apart" in texts[0]
    assert "drifted by −0.504 K" in texts[1]


def test_an_opened_door_is_told_and_blocks_nothing() -> None:
    gusty = mounting(gusts=(Gust(1500.0, 1596.0, -1.8, 1),), steps=changed_steps((1,), left_out=0.05))
    finding = the(gusty, rule=35)
    assert finding.severity is W
    assert "−1.8 K for 96 s (step 1); these readings were left out" in finding.found
    assert "door" in finding.cause


# --- 36, 37, 38 --------------------------------------------------------------------------------------------


def test_a_heater_that_wanders() -> None:
    finding = the(mounting(steps=changed_steps((1, 2), power_sd=1.6)), rule=36)
    assert finding.severity is B
    assert "0.5 %" in finding.found
    assert "supply is not regulated" in finding.cause
    assert found(mounting(steps=changed_steps(power_sd=1.4)), rule=36) == []


def test_a_power_that_was_not_read() -> None:
    finding = the(mounting(steps=changed_steps(power=float("nan"), power_sd=float("nan"))), rule=36)
    assert finding.severity is W
    assert "not read" in finding.found


@pytest.mark.parametrize(
    ("ratio", "cause"),
    [(0.92, "reads too little"), (1.08, "reads too much"), (-0.97, "exchanged")],
)
def test_the_heat_balance(ratio: float, cause: str) -> None:
    finding = the(mounting(steps=changed_steps(balance=ratio, u_balance=0.01)), rule=37)
    assert finding.severity is B
    assert cause in finding.cause


def test_the_heat_balance_just_inside_or_not_known_well_enough() -> None:
    assert found(mounting(steps=changed_steps(balance=0.951, u_balance=0.01)), rule=37) == []
    assert found(mounting(steps=changed_steps(balance=0.92, u_balance=0.045)), rule=37) == []
    assert found(mounting(steps=changed_steps(balance=None, u_balance=None)), rule=37) == []


@pytest.mark.parametrize(
    ("usual", "shifted"), [(0.975 / 0.982, False), (0.975 / 0.977 * 1.025, True), (0.95, True)]
)
def test_a_balance_that_moved_since_the_reference_day(usual: float, shifted: bool) -> None:
    moved = found(mounting(balance=(usual, "2026-03-02")), rule=37)
    assert [each.severity for each in moved] == ([B] if shifted else [])
    assert not shifted or "2026-03-02" in moved[0].found


def test_coolant_that_was_lost() -> None:
    finding = the(mounting(steps=changed_steps(liquid_flow=2.35e-5)), rule=38)
    assert finding.severity is B
    assert "all steps of fan-07-s1-h1" in finding.found
    assert "−6.0 % from the 1.50 l/min" in finding.found
    assert finding.cause == "the loop lost coolant, or air is in it"
    assert "pump" in the(mounting(steps=changed_steps(liquid_flow=2.6e-5)), rule=38).cause
    assert found(mounting(steps=changed_steps(liquid_flow=2.455e-5)), rule=38) == []
    assert found(mounting(liquid_flow=None, steps=changed_steps(liquid_flow=1e-5)), rule=38) == []


@pytest.mark.parametrize(("days", "severities"), [(182, []), (184, [W]), (367, [B])])
def test_coolant_that_is_old(days: int, severities: list[Severity]) -> None:
    assert [each.severity for each in found(mounting(coolant_age=days * DAY), rule=38)] == severities


# --- 19, 20 ------------------------------------------------------------------------------------------------


def test_a_speed_that_wanders() -> None:
    some = changed_steps((1,), speed_sd=0.006 * 16.5)
    every = changed_steps(speed_sd=0.2)
    assert the(mounting(steps=some), rule=19).severity is W
    assert the(mounting(steps=every), rule=19).severity is B
    assert found(mounting(steps=changed_steps(speed_sd=0.004 * 16.5)), rule=19) == []
    slow = (step(1, 0.2, speed_sd=0.009 * 0.2 * 2200 / 60),)
    assert found(mounting(steps=slow), rule=19) == []


def test_wrong_pulses_against_the_optical_tachometer_mark_since_the_optical_was_used() -> None:
    doubled = tuple(
        replace(each, tachometer=2.0 * (each.speed or 0.0), optical=each.speed) for each in changed_steps()
    )
    finding = the(mounting(steps=doubled), rule=20)
    assert finding.severity is W
    assert "wrong pulses per revolution" in finding.cause
    assert "the optical speed was used" in finding.cause


@pytest.mark.parametrize(("ratio", "blocks"), [(1.004, False), (1.008, True)])
def test_tachometer_against_optical(ratio: float, blocks: bool) -> None:
    steps = tuple(
        replace(each, tachometer=ratio * (each.speed or 0.0), optical=each.speed) for each in changed_steps()
    )
    assert [each.severity for each in found(mounting(steps=steps), rule=20)] == ([B] if blocks else [])


@pytest.mark.parametrize(("ratio", "words"), [(2.0, "twice"), (0.5, "half"), (1.5, "1.5 times")])
def test_wrong_pulses_against_what_else_is_known(ratio: float, words: str) -> None:
    steps = tuple(
        replace(each, speed=ratio * (each.speed or 0.0), tachometer=ratio * (each.speed or 0.0))
        for each in changed_steps()
    )
    finding = the(mounting(steps=steps, airflows={}), rule=20)
    assert finding.severity is B
    assert words in finding.cause
    assert "the box says" in finding.found


def test_one_doubtful_speed_of_another_rig_accuses_nobody() -> None:
    speeds = dict(mounting().speeds) | {
        3: ExpectedSpeed(2.0 * 0.8 * 2200 / 60, "in the chamber it turned at")
    }
    assert found(mounting(speeds=speeds), rule=20) == []


# --- 52 ----------------------------------------------------------------------------------------------------


def clocked(**told: object) -> list[tuple[Severity, str]]:
    clock = ClockFacts("power logger", **told)  # type: ignore[arg-type]
    return [(each.severity, each.found) for each in found(mounting(clocks=(clock,)), rule=52)]


def test_a_told_offset_that_both_loggers_contradict_blocks() -> None:
    ((severity, words),) = clocked(how="stated offset", offset=-40.0, u=0.5, edges=2, found=40.2, u_found=1.0)
    assert severity is B
    assert "the offset told is −40 s, 2 changes that both saw tell +40 s" in words
    assert clocked(how="stated offset", offset=38.5, u=0.5, edges=2, found=40.2, u_found=1.0) == []
    assert clocked(how="stated offset", offset=40.0, u=0.5) == []


def test_a_clock_that_was_off_and_put_right_marks() -> None:
    ((severity, words),) = clocked(how="shared edge", offset=-59.0, u=1.6, edges=3)
    assert severity is W
    assert "was 59 s ahead; put right by 3 changes that both saw" in words
    assert clocked(how="shared edge", offset=3.0, u=1.6, edges=1) == []


def test_a_clock_that_nothing_aligns_marks_where_its_readings_are_paired() -> None:
    ((severity, words),) = clocked(how="not aligned", u=None, why="no sudden change")
    assert severity is W
    assert "no sudden change" in words
    assert clocked(how="not aligned", u=None, is_paired=False) == []


# --- 39, 40, 41, 43 ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("moved", "severities"), [(0.14, []), (0.2, [B]), (-0.3, [B])])
def test_the_first_setting_once_more(moved: float, severities: list[Severity]) -> None:
    last = step(4, 0.45)
    steps = (*changed_steps()[:3], replace(last, delta_nominal=last.delta_nominal + moved))
    assert [each.severity for each in found(mounting(steps=steps), rule=39)] == severities


def test_a_repeat_that_is_not_known_well_only_marks() -> None:
    last = step(4, 0.45)
    steps = (*changed_steps()[:3], replace(last, delta_nominal=last.delta_nominal + 0.3, u_own=0.12))
    assert the(mounting(steps=steps), rule=39).severity is W


def test_why_a_repeat_moved() -> None:
    last = step(4, 0.45)
    warmer = last.delta_nominal + 0.4
    less = replace(last, delta_nominal=warmer, liquid_flow=2.45e-5)
    slower = replace(last, delta_nominal=warmer, speed=(last.speed or 0.0) * 0.95)
    cut = replace(last, delta_nominal=warmer, how=FORECAST, u_own=0.06)
    for changed, cause in (
        (less, "coolant's flow"),
        (slower, "the fan turned"),
        (cut, "cut before it was steady"),
    ):
        steps = (*changed_steps()[:3], changed)
        assert cause in the(mounting(steps=steps), rule=39).cause


def test_a_repeat_is_asked_by_sample() -> None:
    once = mounting("fan-07-s1-h2", steps=changed_steps()[:3])
    assert found(mounting(), once, rule=39) == []
    assert "fan-07-s1-h2" in the(once, rule=39).found
    assert the(mounting(), once, rule=39, repeat="always").severity is W
    assert found(once, rule=39, repeat="never") == []
    assert found(once, rule=39, is_reference=True) == []


def test_mounted_once() -> None:
    assert "heat rig once" in the(mounting(), rule=40).found
    assert found(mounting(), mounting("fan-07-s1-h2"), rule=40) == []
    assert the(mounting(), mounting("fan-07-s1-h2"), rule=40, contends=True).severity is W


def warmer(by: float, name: str = "fan-07-s1-h2", **changed: object) -> object:
    steps = tuple(
        replace(
            each,
            delta_nominal=each.delta_nominal + by,
            delta=each.delta + by,
            **({"forecast": {**(each.forecast or {}), "final": each.delta_nominal + by}} | changed),  # type: ignore[arg-type]
        )
        for each in changed_steps()
    )
    return mounting(name, steps=steps)


@pytest.mark.parametrize(("apart", "severities"), [(0.32, []), (0.36, [W]), (0.7, [B])])
def test_mountings_of_one_sample_on_one_day(apart: float, severities: list[Severity]) -> None:
    """2.8 and 5 times s_r = 0.12 K."""
    several = found(mounting(), warmer(apart), rule=41)  # type: ignore[arg-type]
    assert [each.severity for each in several] == severities


@pytest.mark.parametrize(("apart", "severities"), [(0.42, []), (0.46, [W]), (0.85, [B])])
def test_mountings_of_one_sample_on_different_days(apart: float, severities: list[Severity]) -> None:
    """2.8 and 5 times the root of 0.12² + 0.10² K²."""
    later = replace(warmer(apart), date="2026-03-09")  # type: ignore[type-var]
    assert [each.severity for each in found(mounting(), later, rule=41)] == severities  # type: ignore[arg-type]


def test_many_mountings_are_not_held_against_their_extremes() -> None:
    """Sixteen mountings that scatter by 0.12 K: the farthest of 60 such groups is called apart in few of them."""
    rng = np.random.default_rng(1)
    called = 0
    for _ in range(60):
        group = [warmer(0.12 * rng.standard_normal(), f"h{i}") for i in range(16)]
        called += bool(found(*group, rule=41))  # type: ignore[arg-type]
    assert called <= 9


def test_a_fan_warm_by_a_kelvin_was_cut_before_it_was_steady() -> None:
    told = {"final": 17.0, "u": 0.1, "amplitude": -8.0, "tau": 300.0, "start": 0.0, "end": 750.0}
    cut = warmer(1.0, how=FORECAST, span=2.5, forecast=told)
    finding = the(mounting(), cut, rule=41)  # type: ignore[arg-type]
    assert finding.cause == "the run was cut before it was steady"
    assert finding.subject == "mounting:fan-07-s1-h2"


def test_of_three_mountings_the_odd_one_is_named() -> None:
    third = mounting("fan-07-s1-h3")
    finding = the(mounting(), warmer(0.9), third, rule=41)  # type: ignore[arg-type]
    assert finding.subject == "mounting:fan-07-s1-h2"
    assert finding.mountings == ("heat of fan-07-s1-h2",)


def test_less_coolant_explains_a_warmer_mounting() -> None:
    finding = the(mounting(), warmer(0.9, liquid_flow=2.46e-5), rule=41)  # type: ignore[arg-type]
    assert "coolant's flow differed by −2.4 %" in finding.cause


def test_eras_are_not_held_against_each_other() -> None:
    other = replace(warmer(0.9), era=2)  # type: ignore[type-var]
    assert found(mounting(era=1), other, rule=41) == []  # type: ignore[arg-type]


def test_a_setting_held_for_a_moment() -> None:
    short = changed_steps((2,), first=2100.0, last=2100.0 + 280.0)
    assert the(mounting(steps=short), rule=43).severity is W
    assert found(mounting(steps=changed_steps((2,), first=2100.0, last=2400.0)), rule=43) == []


def test_samples_of_which_only_the_heat_rig_tells() -> None:
    assert the(mounting(), rule=1, unregistered=("s1",)).subject == "sample:fan-07/s1"
    assert "0.5 h" in the(mounting(), rule=43, hours={"s1": 1800.0}).found
    assert found(mounting(), rule=43, hours={"s1": 3600.0}) == []


# --- 44 ----------------------------------------------------------------------------------------------------


def test_cooler_than_the_air_allows() -> None:
    """300 W into 0.012 m³/s of 1.2 kg/m³ warm it by 20.7 K; a radiator 16 K over the air can't give them off."""
    finding = the(mounting(airflows={1: 0.012}), rule=44)
    assert finding.severity is B
    assert "warms up by 20.7 K" in finding.found
    assert found(mounting(airflows={1: 0.0145}), rule=44) == []


def test_power_that_falls_as_the_speed_rises() -> None:
    assert "watt" not in the(mounting(steps=changed_steps((3,), fan_power=0.3)), rule=44).found
    assert found(mounting(steps=changed_steps((3,), fan_power=1.0)), rule=44) == []


def test_warmer_at_more_speed() -> None:
    finding = the(mounting(steps=changed_steps((3,), delta_nominal=16.7)), rule=44)
    assert "step 3 (80 %)" in finding.cause


def test_probes_exchanged() -> None:
    steps = tuple(replace(each, delta=-each.delta) for each in changed_steps())
    assert "exchanged" in the(mounting(steps=steps), rule=44).cause


# --- the law of the rig ------------------------------------------------------------------------------------

LAW = LawFacts(
    against="the heat rig",
    name="from 2026-03-18",
    shift=0.04,
    z=6.0,
    delta=0.6,
    mountings={"a-h1": "a", "b-h1": "b"},
)


def test_all_fans_warmer_from_a_day_on() -> None:
    (finding,) = check_law("heat-1", [replace(LAW, flow_fell=True)], Limits())
    assert (finding.rule, finding.severity, finding.fans) == (29, W, ("a", "b"))
    assert "all fans from 2026-03-18 on: 0.60 K warmer on heat-1 than their airflow says" in finding.found
    assert finding.cause == "the coolant's flow changed"
    (noted,) = check_law("heat-1", [replace(LAW, event="2026-03-17 coolant topped up")], Limits())
    assert "coolant topped up" in noted.cause
    assert check_law("heat-1", [replace(LAW, shift=0.019)], Limits()) == []


@pytest.mark.parametrize(
    "against", ["this heat run", "the heat rig", "the airflow of this fan", "heat or airflow"]
)
def test_one_fan_off_its_airflow(against: str) -> None:
    (finding,) = check_law(
        "heat-1", [replace(LAW, against=against, name="a-h1", mountings={"a-h1": "a"})], Limits()
    )
    assert against in finding.expected
    assert finding.cause
    assert finding.test


# --- as a whole --------------------------------------------------------------------------------------------


def test_each_finding_has_an_id_of_its_own_a_test_and_a_source() -> None:
    wrong = changed_steps(
        power_sd=3.0, air_drift=0.9, air_spread=0.9, air=300.0, balance=0.8, u_balance=0.01, liquid_flow=2.3e-5,
        speed_sd=0.5, fan_power=1.0, delta=-1.0,
    )  # fmt: skip
    several = check_heat(fan(mounting(steps=wrong, airflows={}, coolant_age=400 * DAY)))
    assert len({each.id for each in several}) == len(several)
    assert len({each.rule for each in several}) >= 7
    assert all(each.source and each.title for each in several)
    assert all(each.test for each in several)


def test_a_limit_of_the_lab_s_own_is_told() -> None:
    limits = replace(Limits(), coolant_flow=0.08)
    low = mounting(steps=changed_steps(liquid_flow=2.35e-5))
    assert found(low, rule=38, limits=limits) == []
    lower = mounting(steps=changed_steps(liquid_flow=2.2e-5))
    assert "limit of this lab" in the(lower, rule=38, limits=limits).expected


def test_a_growing_run_is_checked_in_well_under_a_millisecond() -> None:
    growing = mounting(
        steps=changed_steps((4,), how=NOT, forecast=None, span=1.0, liquid_flow=2.2e-5), is_running=True
    )
    limits = Limits()
    begun = time.perf_counter()
    for _ in range(100):
        check_live(growing, limits)
    assert (time.perf_counter() - begun) / 100 < 1e-3


def test_a_growing_step_is_held_against_what_can_be_seen_already() -> None:
    """Coolant, air and heater of the step that runs are told before it is over."""
    told = {"liquid_flow": 2.3e-5, "air_spread": 1.4, "power_sd": 3.0}
    growing = mounting(steps=changed_steps((4,), how=NOT, forecast=None, span=1.0, **told), is_running=True)
    assert {each.rule for each in check_live(growing, Limits())} == {35, 36, 38}


def test_the_rules_are_in_the_list() -> None:
    assert {34, 35, 36, 37, 38, 52} <= set(BY_NUMBER)
