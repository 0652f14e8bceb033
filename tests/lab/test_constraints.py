"""Which fans meet what is wanted: bounds against intervals, prices, thickness, and one fan held against another."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from stillroom.compare.candidates import Candidate, Excluded, How, LegacyNumber, Margin, MarginKind
from stillroom.compare.prices import price_list
from stillroom.compare.ranking import rank
from stillroom.compare.standing import Ranking
from stillroom.core.multiple import Merit, Verdict
from stillroom.core.settling import VarianceParts
from stillroom.lab.book import Book
from stillroom.lab.constraints import Meets, Wanted, beside, judged
from stillroom.lab.unanswered import unanswered
from stillroom.records.bench import Obstacle
from stillroom.records.products import Fan, Price
from stillroom.records.settings import Settings

M = 2000
DRAWS = np.random.default_rng(7)


def candidate(fan: str, value: float, sd: float) -> Candidate:
    trials = value + sd * DRAWS.standard_normal(M)
    return Candidate(
        fan, value, trials, VarianceParts(sd**2, 0.0, (2,), {}), How.MEASURED, 1, 2, f"key-{fan}"
    )


def ranking(merit: Merit = Merit.MORE, legacy: tuple[LegacyNumber, ...] = ()) -> Ranking:
    """Fans of 70, 60, 50 with a standard uncertainty of 1, and one that can't be had."""
    found = rank(
        [candidate("Ash", 70.0, 1.0), candidate("Birch", 60.0, 1.0), candidate("Cedar", 50.0, 1.0)],
        measure="airflow", definition="", version="1", unit="m³/h", conditions={},
        margin=Margin(0.05, MarginKind.RELATIVE), merit=merit,
        excluded=(Excluded("Dill", "no run that can be used"), Excluded("Elder", "can’t run this quiet: 31 dBA")),
        legacy=legacy,
    )  # fmt: skip
    prices = [Price(fan="Ash", price=25.0, currency="EUR", date="2026-11-01"),
              Price(fan="Birch", price=15.0, currency="EUR", date="2026-11-01")]  # fmt: skip
    return replace(found, prices=price_list(found, prices, merit))


def book(**told: object) -> Book:
    names = (
        "fans",
        "samples",
        "obstacles",
        "mountings",
        "runs",
        "taken",
        "rigs",
        "instruments",
        "calibrations",
    )
    empty: dict[str, object] = {name: {} for name in (*names, "nozzles")}
    return Book(settings=Settings(), **(empty | told))  # type: ignore[arg-type]


def meets(wanted: Wanted, found: Ranking | None = None, of: Book | None = None) -> dict[str, Meets]:
    return {each.fan: each.meets for each in judged(found or ranking(), wanted, of or book())}


@pytest.mark.parametrize(
    ("least", "expected"),
    [
        (55.0, {"Ash": Meets.SURELY, "Birch": Meets.SURELY, "Cedar": Meets.NOT}),
        (60.5, {"Ash": Meets.SURELY, "Birch": Meets.PERHAPS, "Cedar": Meets.NOT}),
        (64.0, {"Ash": Meets.SURELY, "Birch": Meets.NOT, "Cedar": Meets.NOT}),
        (90.0, {"Ash": Meets.NOT, "Birch": Meets.NOT, "Cedar": Meets.NOT}),
    ],
)
def test_a_bound_from_below_is_held_against_the_whole_interval(
    least: float, expected: dict[str, Meets]
) -> None:
    found = meets(Wanted(at_least=least))
    assert {fan: found[fan] for fan in expected} == expected


def test_a_bound_from_above_is_its_mirror() -> None:
    found = meets(Wanted(at_most=60.5))
    assert (found["Ash"], found["Birch"], found["Cedar"]) == (Meets.NOT, Meets.PERHAPS, Meets.SURELY)


def test_both_bounds_hold_together() -> None:
    found = meets(Wanted(at_least=55.0, at_most=65.0))
    assert (found["Ash"], found["Birch"], found["Cedar"]) == (Meets.NOT, Meets.SURELY, Meets.NOT)


def test_a_bound_at_the_very_end_of_an_interval_is_met_although_units_round() -> None:
    found = ranking()
    ash = found.standings[0]
    assert meets(Wanted(at_least=ash.low * (1 + 1e-12)), found)["Ash"] is Meets.SURELY


def test_a_fan_without_a_value_is_unknown_and_one_that_is_too_loud_is_not_a_candidate() -> None:
    told = {each.fan: each for each in judged(ranking(), Wanted(at_least=1.0), book())}
    assert told["Dill"].meets is Meets.UNKNOWN
    assert told["Dill"].why == "no run that can be used"
    assert told["Dill"].how == "unknown"
    assert told["Elder"].meets is Meets.NOT


def test_a_price_excludes_and_a_fan_without_one_is_unknown() -> None:
    found = meets(Wanted(price=20.0))
    assert (found["Ash"], found["Birch"], found["Cedar"]) == (Meets.NOT, Meets.SURELY, Meets.UNKNOWN)


def test_what_fails_counts_before_what_is_not_known() -> None:
    """Cedar has no price, but moves too little whatever it costs."""
    assert meets(Wanted(at_least=60.0, price=20.0))["Cedar"] is Meets.NOT


def test_thickness_is_as_printed_and_unknown_where_nobody_told() -> None:
    of = book(fans={"Ash": Fan(fan="Ash", thickness=0.025), "Birch": Fan(fan="Birch", thickness=0.015)})
    told = {each.fan: each for each in judged(ranking(), Wanted(thickness=0.025), of)}
    assert told["Ash"].meets is Meets.SURELY
    assert told["Birch"].meets is Meets.NOT
    assert "15 mm thick as printed" in told["Birch"].why
    assert told["Cedar"].meets is Meets.UNKNOWN


def test_who_meets_it_stands_first_in_the_order_of_the_ranking() -> None:
    found = judged(ranking(), Wanted(at_least=55.0), book())
    assert [each.fan for each in found] == ["Ash", "Birch", "Cedar", "Elder", "Dill"]


@pytest.mark.parametrize(("merit", "verdict"), [(Merit.MORE, Verdict.AHEAD), (Merit.LESS, Verdict.BEHIND)])
def test_a_fan_is_held_against_another_from_its_own_side(merit: Merit, verdict: Verdict) -> None:
    """sd of the difference of two independent values is √2; 95 % of a normal one lie within 1.96 of it."""
    found = ranking(merit)
    told, back = beside(found, "Ash", "Cedar"), beside(found, "Cedar", "Ash")
    assert told is not None
    assert back is not None
    assert told.difference == pytest.approx(20.0)
    assert told.high - told.low == pytest.approx(2 * 1.96 * math.sqrt(2.0), rel=0.1)
    assert told.verdict is verdict
    assert (back.difference, back.low, back.high) == (-told.difference, -told.high, -told.low)
    assert {told.verdict, back.verdict} == {Verdict.AHEAD, Verdict.BEHIND}


def test_a_legacy_number_is_held_against_by_its_interval_and_is_unknown_without() -> None:
    """From the interval 30 to 50 a normal sd of 5.1 (JCGM 100:2008, 4.3.4): the difference is as wide."""
    with_ends = LegacyNumber("Oldfan", 40.0, 30.0, 50.0, "key-old")
    found = ranking(legacy=(with_ends, LegacyNumber("Older", 45.0, None, None, "key-older")))
    told = beside(found, "Ash", "Oldfan")
    assert told is not None
    assert told.difference == pytest.approx(30.0)
    assert told.high - told.low == pytest.approx(2 * math.hypot(1.96, 10.0), rel=0.1)
    assert beside(found, "Ash", "Older") is None
    states = meets(Wanted(at_least=35.0), found)
    assert states["Oldfan"] is Meets.PERHAPS
    assert states["Older"] is Meets.UNKNOWN


@pytest.mark.parametrize(
    "asked", ["clicking", "Clicks", "orientation", "true thickness", "tower heatsink", "case front"]
)
def test_questions_that_no_record_answers_say_what_would(asked: str) -> None:
    found = unanswered(book(), asked)
    assert found is not None
    assert found.why
    assert found.needed


def test_a_tower_that_the_lab_has_measured_is_pointed_to() -> None:
    tower = Obstacle(obstacle="tower-a", type="tower heatsink")
    found = unanswered(book(obstacles={"tower-a": tower}), "tower heatsink")
    assert found is not None
    assert found.needed == "--through tower-a"


def test_any_other_word_is_no_known_question() -> None:
    assert unanswered(book(), "colour") is None
