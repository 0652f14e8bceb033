"""Claims: the score against a printed example and closed forms, verdicts at their limits, what a box's words mean."""

from __future__ import annotations

import itertools
import math
import statistics
from dataclasses import replace

import numpy as np
import pytest

from stillroom.compare.claims import Measured, check, not_checkable
from stillroom.compare.printed import Place, Subject, read_printed, subject_of
from stillroom.core.claims import ClaimVerdict, score_claim
from stillroom.core.combine import MountingResult, combine_mountings
from stillroom.core.draws import normal_draws
from stillroom.core.intervals import coverage_interval
from stillroom.core.spread import PooledSpread, Spreads
from stillroom.errors import BadInput
from stillroom.records.products import Claim, completed

GEAR = (1.006, 0.996, 0.998, 1.000, 0.992, 0.993, 1.002, 0.999, 0.994, 1.000)
"""The first batch of NIST's gear diameters (JAHANMI2/GEAR.DAT, e-Handbook 1.3.5.10), as printed in the example."""

ZETAS = (0.785, -0.523, -0.261, 0.000, -1.047)
"""ISO 13528 zeta scores of the first five, x_ref = 1 and u_ref = the standard deviation of all hundred, as printed
in NIST's Dataplot reference manual, volume 2, "ISO 13528 ZETA SCORE" (read there)."""

ALL_GEARS_SD = 0.006 / 0.955
"""The standard deviation of all hundred, from the z score 0.955 of 1.006 that the same manual prints at
"ISO 13528 ZSCORE" with x_ref = 1 (three digits)."""


def test_the_score_is_the_zeta_score_of_the_printed_example() -> None:
    u = statistics.stdev(GEAR)
    for value, zeta in zip(GEAR, ZETAS, strict=False):
        found = score_claim(value, 1.0, u, 2.0 * ALL_GEARS_SD)  # tol/2 stands for the standard uncertainty
        assert found.z == pytest.approx(zeta, abs=1e-3)


@pytest.mark.parametrize("scale", [1e-3, 1.0, 3600.0])
def test_the_score_by_closed_form_and_in_any_unit(scale: float) -> None:
    # 3-4-5: u = 3, tol/2 = 4, so that √(u² + (tol/2)²) = 5.
    found = score_claim(110.0 * scale, 100.0 * scale, 3.0 * scale, 8.0 * scale)
    assert found.z == pytest.approx(2.0)
    assert found.difference == pytest.approx(10.0 * scale)
    assert found.verdict is ClaimVerdict.WITHIN_UNCERTAINTY  # 10 away: not beyond 8 + 2 · 3
    mirrored = score_claim(90.0 * scale, 100.0 * scale, 3.0 * scale, 8.0 * scale)
    assert mirrored.z == pytest.approx(-found.z)


def test_verdicts_change_exactly_at_their_limits() -> None:
    # u = 1, tol = 4: within tolerance up to 4; beyond 4 + 2 u the whole interval lies outside (ISO 14253-1).
    edge = 6.0
    for away, verdict in (
        (4.0, ClaimVerdict.WITHIN_TOLERANCE),
        (4.0 + 1e-9, ClaimVerdict.WITHIN_UNCERTAINTY),
        (edge - 1e-9, ClaimVerdict.WITHIN_UNCERTAINTY),
        (edge + 1e-9, ClaimVerdict.OUTSIDE),
    ):
        for sign in (1, -1):
            assert score_claim(100.0 + sign * away, 100.0, 1.0, 4.0).verdict is verdict, away
            assert score_claim(100.0 + sign * away, 100.0, 0.7, 4.0, 2.0).verdict is verdict, away


def test_what_lies_outside_has_a_score_beyond_two() -> None:
    for u, tolerance in itertools.product((0.1, 1.0, 3.0), (0.0, 0.5, 5.0, 20.0)):
        found = score_claim(100.0 + tolerance + 2.001 * u, 100.0, u, tolerance)
        assert found.verdict is ClaimVerdict.OUTSIDE
        assert found.z > 2.0


@pytest.mark.parametrize("tolerance", [0.0, 0.05, 0.10])
def test_a_fan_on_the_limit_of_its_tolerance_seldom_fails(tolerance: float) -> None:
    """Two samples, two mountings each, spreads known to four degrees of freedom: 2.5 % would be ideal."""
    rng = np.random.default_rng(11)
    spreads = Spreads(PooledSpread.agreed(0.005, 4.0), PooledSpread.agreed(0.012, 4.0))
    failures, rounds, rig = 0, 300, 0.006
    for each in range(rounds):
        mounting_sd, sample_sd = (sd * math.sqrt(4.0 / rng.chisquare(4)) for sd in (0.005, 0.012))
        bias = rig * rng.standard_normal()
        found = []
        for sample in "ab":
            unit = sample_sd * rng.standard_normal()
            for number in range(2):
                value = 100.0 * (1.0 + bias + unit + mounting_sd * rng.standard_normal())
                shared = value * (1.0 + rig * normal_draws("rig", 500))
                found.append(MountingResult(f"{each}{sample}", f"{each}{sample}{number}", value, shared,
                                            np.zeros(500), {"rig": value * rig}))  # fmt: skip
        fan = combine_mountings(found, spreads, identity=f"round {each}")
        low, high = (float(end) for end in coverage_interval(fan.trials))
        box = 100.0 / (1.0 - tolerance)
        of_fan = Measured(fan.value, low, high, fan.variance**0.5, 2, 4, "key")
        failures += check(claim(), "free airflow", box, tolerance, of_fan).is_failure
    assert failures / rounds < 0.06


def test_with_no_uncertainty_left_the_limit_is_the_tolerance() -> None:
    tiny = 1e-9
    assert score_claim(104.0001, 100.0, tiny, 4.0).verdict is ClaimVerdict.OUTSIDE
    assert score_claim(103.9999, 100.0, tiny, 4.0).verdict is ClaimVerdict.WITHIN_TOLERANCE


def test_without_a_tolerance_two_standard_uncertainties_count() -> None:
    # As |E_n| ≤ 1 with expanded uncertainties of k = 2 (ISO/IEC 17043:2010, B.3.1.3, from memory).
    assert score_claim(101.99, 100.0, 1.0).verdict is ClaimVerdict.WITHIN_UNCERTAINTY
    assert score_claim(102.01, 100.0, 1.0).verdict is ClaimVerdict.OUTSIDE
    assert score_claim(100.0, 100.0, 1.0).verdict is ClaimVerdict.WITHIN_TOLERANCE


@pytest.mark.parametrize(
    ("mean", "claim", "u", "tolerance"),
    [
        (math.nan, 1, 1, 0),
        (1, math.inf, 1, 0),
        (1, 1, 0, 0),
        (1, 1, -1, 0),
        (1, 1, 1, -0.1),
        (1, 1, math.nan, 0),
    ],
)
def test_what_cannot_be_judged_is_refused(mean: float, claim: float, u: float, tolerance: float) -> None:
    with pytest.raises(BadInput, match=r"claim|uncertainty"):
        score_claim(mean, claim, u, tolerance)


def claim() -> Claim:
    return Claim(fan="Whin", quantity="airflow", value=100.0, unit="m³/h", condition="free delivery, 12 V")


def measured(value: float, samples: int) -> Measured:
    return Measured(value, value - 2, value + 2, 1.0, samples, samples, "key")


def test_outside_needs_two_samples_to_be_a_failure() -> None:
    one = check(claim(), "free airflow", 100.0, 0.0, measured(90.0, 1))
    two = check(claim(), "free airflow", 100.0, 0.0, measured(90.0, 2))
    assert one.verdict is two.verdict is ClaimVerdict.OUTSIDE
    assert (one.is_failure, two.is_failure) == (False, True)
    said = "outside, 10 % below the claim (no tolerance is printed)"
    assert one.words == f"{said}, 1 sample: not published as a failure"
    assert two.words == said
    assert two.ratio == pytest.approx(0.9)


@pytest.mark.parametrize(
    ("quantity", "value", "fails"),
    [("airflow", 90.0, True), ("airflow", 110.0, False), ("max. static pressure", 110.0, False),
     ("speed", 110.0, True), ("speed", 90.0, True), ("power", 110.0, True), ("power", 90.0, False)],
)  # fmt: skip
def test_a_box_that_gives_more_than_it_claims_is_no_failure(quantity: str, value: float, fails: bool) -> None:
    found = check(replace(claim(), quantity=quantity), "", 100.0, 0.05, measured(value, 2))
    assert found.verdict is ClaimVerdict.OUTSIDE
    assert (found.falls_short, found.is_failure) == (fails, fails)
    side = "above" if value > 100.0 else "below"
    assert found.words == f"outside, 10 % {side} the claim" + ("" if fails else ": no failure")


def test_claims_of_one_quantity_under_two_conditions_are_two() -> None:
    two = {each.name: each for each in (claim(), replace(claim(), condition="free delivery, 7 V"))}
    assert list(two) == ["Whin/airflow/free delivery, 12 V", "Whin/airflow/free delivery, 7 V"]
    bare = replace(claim(), condition=None)
    assert completed({bare.name: bare}) == {"Whin/airflow": bare}
    assert completed({bare.name: bare} | two) == two  # the condition was written down later


def test_a_relative_tolerance_is_taken_of_the_claim() -> None:
    assert check(claim(), "free airflow", 100.0, 0.10, measured(91.0, 2)).words == "within tolerance"
    assert check(claim(), "free airflow", 100.0, 0.10, measured(80.0, 2)).is_failure


def test_what_is_not_checkable_says_why_and_never_fails() -> None:
    found = not_checkable(claim(), "noise", 24.0, 0.0, "noise isn’t measured yet")
    assert found.words == "not checkable: noise isn’t measured yet"
    assert not found.is_failure
    assert found.ratio is None


@pytest.mark.parametrize(
    ("words", "subject", "place"),
    [
        ("airflow", Subject.AIRFLOW, Place.UNTOLD),
        ("Air flow", Subject.AIRFLOW, Place.UNTOLD),
        ("maximum airflow", Subject.AIRFLOW, Place.FREE),
        ("max. static pressure", Subject.PRESSURE, Place.SHUT),
        ("shut-off pressure", Subject.PRESSURE, Place.SHUT),
        ("fan speed", Subject.SPEED, Place.UNTOLD),
        ("input power", Subject.POWER, Place.UNTOLD),
        ("noise", Subject.NOISE, Place.UNTOLD),
    ],
)
def test_quantities_as_boxes_name_them(words: str, subject: Subject, place: Place) -> None:
    assert subject_of(words) == (subject, place)


def test_an_unknown_quantity_stays_unknown() -> None:
    assert subject_of("bearing life") is None


def test_conditions_as_boxes_print_them() -> None:
    found = read_printed("free delivery, 12 V, ± 10 %")
    assert (found.place, found.volts, found.tolerance, found.unknown) == (
        Place.FREE,
        12.0,
        pytest.approx(0.1),
        (),
    )
    assert read_printed("shut-off; 12 VDC").place is Place.SHUT
    assert read_printed("at 1500 rpm, 0 Pa").speed == pytest.approx(25.0)
    assert read_printed("50 % PWM").duty == pytest.approx(0.5)
    assert read_printed("100 %").full
    assert read_printed("full speed, 20 °C, free air").place is Place.FREE
    assert read_printed("+/-10%").tolerance == pytest.approx(0.1)
    assert read_printed("").has_setting is False
    assert read_printed("with the grille on, 12 V").unknown == ("with the grille on",)


def test_conditions_without_commas() -> None:
    found = read_printed("shut-off 12 V")
    assert (found.place, found.volts, found.unknown) == (Place.SHUT, 12.0, ())
    found = read_printed("free air at 2000 rpm ± 10 %")
    assert (found.place, found.speed, found.tolerance) == (Place.FREE, 2000.0 / 60.0, 0.1)
    assert read_printed("full speed standard air").full
    assert read_printed("12 V with the grille on").unknown == ("12 V with the grille on",)
    assert read_printed("12 V with the grille on").volts is None
