"""Fans compared at the same noise, against closed forms: straight lines of level, known curves of pressure."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from noise_world import (
    FANS,
    HOUR,
    HUMP,
    HUMP_AT,
    TOP,
    Fan,
    Sound,
    but,
    flow_at,
    limit_of,
    line,
    line_of,
    make_lab,
    ranked,
    state,
    why,
)  # fmt: skip
from scipy.optimize import brentq

from stillroom.compare.candidates import Bound, How, MarginKind
from stillroom.core.standards.iso_532_1_2017.loudness import sone_from_phon
from stillroom.core.systems import System
from stillroom.errors import Contradiction, NotPossible, UnknownThing
from stillroom.lab.question import spread_name
from stillroom.lab.sound.fan_sound import FREE_AIR, SPREAD, Sounds
from stillroom.lab.sound.limits import fan_limit
from stillroom.measures import Condition, measure_named
from stillroom.records.acts import Spread
from stillroom.store.lab import Lab


@pytest.mark.parametrize("limit", [22.0, 31.0])
def test_airflow_at_a_limit_is_that_at_the_speed_of_the_line(made: Lab, limit: float) -> None:
    found = ranked(made, "airflow", noise=limit, obstacle="rad")
    alder = line_of(found, "Alder")
    assert alder.value * HOUR == pytest.approx(flow_at(limit_of(30.0, limit)), rel=1e-3)
    assert alder.how is How.INTERPOLATED
    assert FREE_AIR in alder.marks
    assert found.conditions["speed"] == f"{limit:g} dBA at 0.5 m"
    assert found.conditions["noise rule"] == "highest"
    assert "0.5 m" in str(found.conditions["microphone"])


def test_a_fan_is_the_mean_of_its_mountings_at_each_speed(made: Lab) -> None:
    found = ranked(made, "limited-speed", noise=28.0)
    assert line_of(found, "Birch").value * 60 == pytest.approx(limit_of(33.0, 28.0), rel=1e-4)
    assert line_of(found, "Birch").mountings == 2
    assert line_of(found, "Birch").samples == 1


def test_the_level_with_the_obstacle_mounted_counts_where_it_was_measured(made: Lab) -> None:
    found = ranked(made, "airflow", noise=28.0, obstacle="rad")
    iris = line_of(found, "Iris")
    assert iris.value * HOUR == pytest.approx(flow_at(limit_of(34.0, 28.0)), rel=1e-3)
    assert FREE_AIR not in iris.marks
    free = line_of(ranked(made, "limited-speed", noise=28.0), "Iris")
    assert free.value * 60 == pytest.approx(limit_of(30.0, 28.0), rel=1e-4)
    assert FREE_AIR not in free.marks
    way = ranked(made, "level", speed=20.0, obstacle="rad").conditions["way"]
    assert way == f"in part {FREE_AIR}"


def inverted(limit: float, low: float, high: float) -> float:
    """Where the level of the fan with a resonance crosses a limit between two speeds [rpm]."""

    def over(speed: float) -> float:
        hump = HUMP * math.exp(-0.5 * ((speed - HUMP_AT) / 60.0) ** 2)
        return 30.0 + 53.0 * math.log10(speed / 1500.0) + hump - limit

    return float(brentq(over, low, high))


def test_an_inverted_fan_gets_the_highest_speed_and_what_to_avoid(made: Lab) -> None:
    found = line_of(ranked(made, "limited-speed", noise=28.0), "Cherry")
    assert found.value * 60 == pytest.approx(inverted(28.0, 1345.0, 1600.0), rel=1e-3)
    below = inverted(28.0, 900.0, 1195.0)
    assert f"above 28 dBA: avoid {below:,.0f}–{inverted(28.0, 1205.0, 1345.0):,.0f} rpm" in found.marks
    assert f"first over the limit from {below:,.0f} rpm on" in found.marks
    assert not any(
        "avoid" in each for each in line_of(ranked(made, "limited-speed", noise=28.0), "Alder").marks
    )


def test_by_the_strict_rule_it_gets_the_speed_below_the_resonance(tmp_path: Path) -> None:
    with make_lab(tmp_path, (FANS[2],), '[sound]\nrule = "never exceeded"\n') as lab:
        found = ranked(lab, "limited-speed", noise=28.0)
        assert line_of(found, "Cherry").value * 60 == pytest.approx(inverted(28.0, 900.0, 1195.0), rel=1e-3)
        assert found.conditions["noise rule"] == "never exceeded"


def test_a_fan_that_never_gets_there_tops_out_and_keeps_its_place(made: Lab) -> None:
    found = ranked(made, "airflow", noise=33.0, obstacle="rad")
    dogwood = line_of(found, "Dogwood")
    assert dogwood.value * HOUR == pytest.approx(flow_at(TOP, 0.97), rel=2e-3)
    top = 22.0 + 53.0 * math.log10(2000.0 / 1500.0)
    assert f"tops out at {top:.1f} dBA at 0.5 m" in dogwood.marks
    full = ranked(made, "airflow", obstacle="rad")
    assert dogwood.value == pytest.approx(line_of(full, "Dogwood").value, rel=1e-9)


def test_a_fan_heard_only_far_below_its_full_speed_gets_at_least_the_airflow_there(tmp_path: Path) -> None:
    with make_lab(tmp_path, (FANS[0], Fan("Kelp", (Sound(line(22.0), reach=(500.0, 1200.0)),)))) as lab:
        kelp = line_of(ranked(lab, "airflow", noise=33.0, obstacle="rad"), "Kelp")
    assert kelp.value * HOUR == pytest.approx(flow_at(1200.0), rel=2e-3)  # of 2,000 rpm by its sweeps
    assert kelp.bound is Bound.AT_LEAST
    assert "its sound was measured only up to 1,200 rpm" in kelp.marks
    assert not any("tops out" in each or "full setting" in each for each in kelp.marks)


def test_a_fan_above_the_limit_at_its_lowest_speed_stays_in_the_answer_with_its_words(made: Lab) -> None:
    found = ranked(made, "airflow", noise=25.0, obstacle="rad")
    least = 55.0 + 53.0 * math.log10(500.0 / 1500.0)
    words = f"can’t run this quiet: {least:.1f} dBA at 0.5 m at its lowest speed measured, 500 rpm"
    assert why(found, "Elm") == words
    assert next(each for each in found.excluded if each.fan == "Elm").measured
    assert {"fan": "Elm", "why": words, "measured": True} in found.as_dict()["excluded"]  # type: ignore[operator]


def test_who_has_no_sound_that_goes_together_is_named_with_the_reason(made: Lab) -> None:
    found = ranked(made, "airflow", noise=28.0, obstacle="rad")
    assert why(found, "Gorse") == "sound measured at 1 m, not 0.5 m"
    assert why(found, "Hazel") == "no sound measured"
    assert "airflow tested from 1,200" in why(ranked(made, "airflow", noise=20.0, obstacle="rad"), "Juniper")


def test_where_nothing_was_measured_at_the_labs_distance_the_most_common_counts(tmp_path: Path) -> None:
    fans = tuple(Fan(each.name, (but(each.sounds[0], distance=1.0),)) for each in FANS[:2])
    with make_lab(tmp_path, (*fans, Fan("Cherry", (Sound(line(30.0), distance=None),)))) as lab:
        found = ranked(lab, "limited-speed", noise=28.0)
        assert found.conditions["distance"] == "1 m"
        assert found.conditions["speed"] == "28 dBA at 1 m"
        assert {each.fan for each in found.standings} == {"Alder", "Birch", "Cherry"}
        assert "distance not told" in line_of(found, "Cherry").marks


def test_where_the_limit_lies_in_the_floor_the_airflow_is_at_least_that(made: Lab) -> None:
    found = ranked(made, "airflow", noise=27.0, obstacle="rad")
    fir = line_of(found, "Fir")
    assert fir.bound is Bound.AT_LEAST
    assert math.isinf(fir.high)
    assert fir.value * HOUR == pytest.approx(flow_at(limit_of(30.0, 27.0)), rel=5e-3)
    assert "the limit lies in the noise floor" in fir.marks


def test_a_level_in_the_floor_is_at_most_that(made: Lab) -> None:
    found = ranked(made, "level", speed=900 / 60)
    fir = line_of(found, "Fir")
    assert fir.bound is Bound.AT_MOST
    assert fir.value == pytest.approx(27.0)
    assert math.isinf(fir.low)
    document = next(each for each in found.as_dict()["standings"] if each["fan"] == "Fir")  # type: ignore[union-attr,index,call-overload]
    assert document["low"] is None  # type: ignore[index,call-overload]
    assert document["bound"] == "at most"  # type: ignore[index,call-overload]
    assert found.standings[0].fan == "Dogwood"


# --- trials in common -------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def calibrators(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Lab, Lab]]:
    """Twice the same two fans: with a calibrator without error, and with one that errs by 3 dB."""
    base = tmp_path_factory.mktemp("calibrators")

    def fans(u: float) -> tuple[Fan, ...]:
        told = (("Alder", 30.0), ("Birch", 31.0))
        return tuple(Fan(name, (Sound(line(level), calibrator=u),)) for name, level in told)

    with make_lab(base / "none", fans(0.0)) as none, make_lab(base / "much", fans(3.0)) as much:
        yield none, much


@pytest.mark.parametrize(
    ("measure", "told"),
    [
        ("airflow", {"noise": 28.0, "obstacle": "rad"}),
        ("limited-speed", {"noise": 28.0}),
        ("level", {"speed": 20.0}),
        ("level", {"for_flow": 55.0 / HOUR, "obstacle": "rad"}),
    ],
)
def test_an_error_of_the_calibrator_widens_each_value_but_no_comparison(
    calibrators: tuple[Lab, Lab], measure: str, told: dict[str, float | str]
) -> None:
    widths = []
    for lab in calibrators:
        found = ranked(lab, measure, **told)
        one, pair = line_of(found, "Alder"), found.pairs[0]
        widths.append((one.high - one.low, pair.high - pair.low))
    assert widths[1][0] > 1.5 * widths[0][0]
    assert widths[1][1] == pytest.approx(widths[0][1], rel=0.05)


def test_what_is_the_fans_own_in_the_quiet_room_adds_to_its_variance(tmp_path: Path) -> None:
    """u² of ln Q = u² of the airflow + (ln 10/53)² (u² of mounting, sample and readings in dB)."""
    fans = (Fan("Alder", (Sound(line(30.0), calibrator=0.0),)),)
    with make_lab(tmp_path, fans) as lab:
        limit = 30.0 + 53.0 * math.log10(1200.0 / 1500.0)
        limited = line_of(ranked(lab, "airflow", noise=limit, obstacle="rad"), "Alder")
        speed = line_of(ranked(lab, "limited-speed", noise=limit), "Alder")
        plain = line_of(ranked(lab, "airflow", speed=20.0, obstacle="rad"), "Alder")
    assert limited.value == pytest.approx(plain.value, rel=1e-3)
    half = [math.log(each.high / each.low) / 2 for each in (limited, speed, plain)]
    # the ends of 2,000 trials with tails of Student's t lie within about 4 %
    assert half[0] == pytest.approx(math.hypot(half[1], half[2]), rel=0.1)
    # priors of 0.4 dB between mountings, 0.7 dB between samples, with 4 degrees of freedom: t(97.5 %) = 2.776
    assert half[1] == pytest.approx(math.log(10.0) / 53.0 * math.hypot(0.4, 0.7) * 2.776, rel=0.1)


# --- several fans, loudness, settings ---------------------------------------------------------------------


@pytest.mark.parametrize("n", [2, 3])
def test_each_of_n_equal_fans_has_ten_lg_n_less(made: Lab, n: int) -> None:
    found = ranked(made, "limited-speed", noise=30.0, system=System(beside=n))
    one = ranked(made, "limited-speed", noise=30.0 - 10.0 * math.log10(n))
    assert line_of(found, "Alder").value == line_of(one, "Alder").value
    flows = ranked(made, "airflow", noise=30.0, obstacle="rad", system=System(beside=n, tiles=float(n)))
    alone = ranked(made, "airflow", noise=30.0 - 10.0 * math.log10(n), obstacle="rad")
    assert line_of(flows, "Alder").value == pytest.approx(n * line_of(alone, "Alder").value, rel=1e-6)
    level = ranked(made, "level", speed=20.0, system=System(beside=n))
    bare = ranked(made, "level", speed=20.0)
    gain = line_of(level, "Alder").value - line_of(bare, "Alder").value
    assert gain == pytest.approx(10.0 * math.log10(n), abs=1e-12)
    assert line_of(level, "Alder").how is How.MODELLED


def test_two_in_push_pull_are_two_fans(made: Lab) -> None:
    found = ranked(made, "limited-speed", noise=30.0, system=System(push_pull=0.85))
    assert line_of(found, "Alder").value * 60 == pytest.approx(
        limit_of(30.0, 30.0 - 10 * math.log10(2)), rel=1e-4
    )


def test_a_limit_in_sone_is_one_of_the_loudness(made: Lab) -> None:
    # the made loudness level is the level + 5; 1 sone = 40 phon (ISO 532-1:2017, by definition)
    found = ranked(made, "airflow", sone=1.0, obstacle="rad")
    assert line_of(found, "Alder").value * HOUR == pytest.approx(flow_at(limit_of(30.0, 35.0)), rel=2e-3)
    assert found.conditions["speed"] == "1 sone at 0.5 m"
    assert "sone at 0.5 m" in next(
        each for each in line_of(found, "Dogwood").marks if each.startswith("tops out")
    )
    assert why(found, "Juniper") == "sound without one-third-octave levels"


def test_loudness_and_sharpness_at_a_limit(made: Lab) -> None:
    loud = line_of(ranked(made, "loudness", noise=28.0), "Alder")
    assert loud.value == pytest.approx(float(sone_from_phon(33.0)), rel=1e-3)
    assert (
        loud.high - loud.low < 0.05 * loud.value
    )  # the errors of level and loudness level are the same here
    sharp = line_of(ranked(made, "sharpness", noise=28.0), "Alder")
    assert sharp.value == pytest.approx(1.0 + limit_of(30.0, 28.0) / 4000.0, rel=1e-4)


def test_levels_are_compared_in_decibels(made: Lab) -> None:
    found = ranked(made, "level", speed=20.0)
    expected = 30.0 + 53.0 * math.log10(1200.0 / 1500.0)
    assert line_of(found, "Alder").value == pytest.approx(expected, abs=1e-3)
    assert line_of(found, "Alder").how is How.MEASURED
    assert line_of(ranked(made, "level", speed=20.7), "Alder").how is How.INTERPOLATED
    assert (found.unit, found.margin.size, found.margin.kind) == ("dB", 1.0, MarginKind.ABSOLUTE)
    assert [each.value for each in found.standings] == sorted(each.value for each in found.standings)
    assert found.conditions["distance"] == "0.5 m"


def test_the_level_at_a_duty_and_at_full_setting(made: Lab) -> None:
    full = line_of(ranked(made, "level"), "Alder")
    assert full.value == pytest.approx(30.0 + 53.0 * math.log10(2000.0 / 1500.0), abs=1e-3)
    between = line_of(ranked(made, "level", duty=0.62), "Alder")
    assert between.value == pytest.approx(30.0 + 53.0 * math.log10(1240.0 / 1500.0), abs=0.01)
    assert "interpolated between 60 % and 65 %" in between.marks
    refused = ranked(made, "level", duty=0.2)
    assert why(refused, "Alder").startswith("dwells from 25 %") or "25 %" in why(refused, "Alder")
    assert "sound measured from 500 to 2,000 rpm" in why(ranked(made, "level", speed=40.0), "Alder")


@pytest.mark.parametrize("flow", [45.0, 75.0])
def test_the_noise_needed_for_an_airflow(made: Lab, flow: float) -> None:
    found = ranked(made, "level", for_flow=flow / HOUR, obstacle="rad")
    speed = brentq(lambda each: flow_at(each) - flow, 300.0, 3000.0)
    assert line_of(found, "Alder").value == pytest.approx(30.0 + 53.0 * math.log10(speed / 1500.0), abs=0.03)
    assert line_of(found, "Iris").value == pytest.approx(34.0 + 53.0 * math.log10(speed / 1500.0), abs=0.03)
    assert FREE_AIR in line_of(found, "Alder").marks
    assert FREE_AIR not in line_of(found, "Iris").marks
    needed = ranked(made, "needed-speed", for_flow=flow / HOUR, obstacle="rad")
    assert line_of(needed, "Alder").value * 60 == pytest.approx(speed, rel=1e-3)


def test_an_airflow_that_a_fan_lacks_leaves_it_in_the_answer(made: Lab) -> None:
    found = ranked(made, "level", for_flow=150.0 / HOUR, obstacle="rad")
    assert "more than its full speed, 2,000 rpm" in why(found, "Alder")
    assert found.standings == ()
    spoken = ranked(made, "loudness", for_flow=60.0 / HOUR, obstacle="rad")
    assert line_of(spoken, "Alder").value > 0.0


# --- marks, spreads, keys ---------------------------------------------------------------------------------


def test_a_tone_is_told_as_a_fact_where_it_lies_at_the_limits_speed(made: Lab) -> None:
    marks = line_of(ranked(made, "airflow", noise=28.0, obstacle="rad"), "Alder").marks
    blade_pass = 7.0 * limit_of(30.0, 28.0) / 60.0
    assert f"has a tone at {blade_pass:.0f} Hz (blade pass)" in marks
    assert "has a tone at 2500 Hz (fixed frequency)" in marks
    assert sum("has a tone" in each for each in marks) == 2
    assert not any("dB" in each for each in marks if "tone" in each)


def test_a_wide_bracket_is_said(tmp_path: Path) -> None:
    steep = Fan("Alder", (Sound(line(30.0, 300.0)),))
    with make_lab(tmp_path, (steep,)) as lab:
        marks = line_of(ranked(lab, "limited-speed", noise=28.0), "Alder").marks
    assert any(each.startswith("one more dwell between ") and each.endswith("dB apart") for each in marks), (
        marks
    )


def test_the_spread_of_levels_is_agreed_in_decibels_and_stays(made: Lab) -> None:
    ranked(made, "limited-speed", noise=28.0)
    agreed = made.current(Spread)[SPREAD]
    # Birch alone has two mountings of one sample, 0.4 dB apart: (4 · 0.4² + 0.08)/(4 + 1)
    assert agreed.mounting == pytest.approx(math.sqrt((4 * 0.4**2 + 0.08) / 5), rel=1e-6)
    assert agreed.sample == pytest.approx(0.7)
    assert spread_name(measure_named("level"), Condition(speed=20.0)) == SPREAD


def test_levels_that_are_bounds_lend_no_spread(tmp_path: Path) -> None:
    # at their common middle, 1,000 rpm, both lie in the floor, alike: that says nothing of the spread
    drowned = Fan("Lime", tuple(Sound(line(30.0), mounting=each, floor=27.0) for each in ("1", "2")))
    with make_lab(tmp_path, (FANS[1], drowned)) as lab:
        book, graph = state(lab)
        mounting = Sounds(lab, book, graph).spreads.mounting
    assert mounting.data_dof == 1
    assert mounting.sd == pytest.approx(math.sqrt((4 * 0.4**2 + 0.08) / 5), rel=1e-6)


def test_the_same_question_has_the_same_keys_and_numbers(made: Lab) -> None:
    first, again = (ranked(made, "airflow", noise=29.0, obstacle="rad") for _ in range(2))
    assert first.as_dict() == again.as_dict()
    other = ranked(made, "airflow", noise=29.5, obstacle="rad")
    assert line_of(first, "Alder").key != line_of(other, "Alder").key


def test_a_limit_of_one_fan(made: Lab) -> None:
    book, graph = state(made)
    found = fan_limit(made, book, graph, "Alder", "rad", Condition(noise=28.0))
    assert found.limit.speeds[0] * 60 == pytest.approx(limit_of(30.0, 28.0), rel=1e-4)
    assert found.obstacle_used == ""
    assert found.duty == pytest.approx(limit_of(30.0, 28.0) / TOP, abs=1e-3)
    assert found.level[0] == pytest.approx(28.0, abs=1e-3)
    assert found.loudness is not None
    assert found.loudness[0] == pytest.approx(float(sone_from_phon(33.0)), rel=1e-3)
    low, high = found.interval
    assert low < found.limit.speeds[0] < high
    assert len(np.unique(found.speeds.speeds)) > 100


# --- refused ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("measure", "told", "words"),
    [
        ("level", {"noise": 30.0}, "--noise"),
        ("limited-speed", {}, "no noise limit"),
        ("airflow", {"for_flow": 0.01, "obstacle": "rad"}, "--for-flow"),
        ("needed-speed", {"obstacle": "rad"}, "no airflow"),
        ("level", {"for_flow": 0.01}, "--for-flow without --through"),
        ("sharpness", {"for_flow": 0.01, "obstacle": "rad"}, "--for-flow"),
        ("loudness", {"system": System(beside=2)}, "several fans"),
        ("airflow", {"noise": 30.0}, "no obstacle"),
    ],
)
def test_what_a_measure_cannot_be_asked_under_is_refused(
    made: Lab, measure: str, told: dict[str, object], words: str
) -> None:
    with pytest.raises(NotPossible, match=words):
        ranked(made, measure, **told)


def test_sone_of_several_fans_is_refused_with_what_would_be_right(made: Lab) -> None:
    found = ranked(made, "airflow", sone=1.0, obstacle="rad", system=System(beside=2))
    assert why(found, "Alder").startswith("a limit in sone, which does not add up")
    assert found.standings == ()


def test_two_settings_an_unknown_fan_and_an_unknown_obstacle_are_refused(made: Lab) -> None:
    with pytest.raises(Contradiction, match="speed and noise"):
        Condition(speed=20.0, noise=30.0)
    with pytest.raises(Contradiction, match="noise and loudness"):
        Condition(noise=30.0, sone=1.0)
    with pytest.raises(UnknownThing, match="Aldr"):
        ranked(made, "level", only=("Aldr",))
    with pytest.raises(UnknownThing, match="obstacle"):
        ranked(made, "level", obstacle="radd")


def test_a_lab_without_any_sound_says_so(tmp_path: Path) -> None:
    with make_lab(tmp_path, (Fan("Hazel", ()), Fan("Moss", ()))) as lab:
        assert why(ranked(lab, "airflow", noise=30.0, obstacle="rad"), "Hazel") == "no sound measured"
        assert why(ranked(lab, "level"), "Moss") == "no sound measured"
        book, graph = state(lab)
        assert Sounds(lab, book, graph).comparable.nodes == {}
