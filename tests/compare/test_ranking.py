"""A ranking as the doors see it: order, words, JSON, units, bounds and refusals."""

import json
import time
from dataclasses import replace

import numpy as np
import pytest

from stillroom.compare.candidates import (
    Bound,
    Candidate,
    Ends,
    Excluded,
    How,
    Margin,
    MarginKind,
    StandingVerdict,
)
from stillroom.compare.ranking import rank
from stillroom.compare.standing import Ranking
from stillroom.core.combine import VarianceParts
from stillroom.core.draws import normal_draws
from stillroom.core.multiple import Merit, Verdict
from stillroom.errors import BadInput, Contradiction, NotPossible, OutOfRange, UnknownUnit

M = 2000
HOUR = 1 / 3600


def candidate(fan: str, value: float, sd: float = 0.5, *, bound: Bound = Bound.NONE) -> Candidate:
    """A fan with one sample mounted twice; the sample spread is as large as the mounting's."""
    trials = value + sd * normal_draws(f"private/{fan}", M) + 3.0 * normal_draws("shared", M)
    parts = VarianceParts(sd * sd / 2, sd * sd, (2,), {"shared": 3.0})
    return Candidate(fan, value, trials, parts, How.MEASURED, 1, 2, f"key-{fan}", bound=bound)


def ranking(
    *candidates: Candidate,
    margin: Margin | None = None,
    merit: Merit = Merit.MORE,
    excluded: tuple[Excluded, ...] = (),
    unit: str = "m³/s",
) -> Ranking:
    return rank(
        candidates,
        measure="free-airflow",
        definition="airflow at no pressure difference, full speed, 1.2 kg/m³",
        version="1",
        unit=unit,
        conditions={"speed": "full", "density": 1.2},
        margin=margin or Margin(2.0),
        merit=merit,
        excluded=excluded,
    )


def words(found: Ranking) -> dict[str, str]:
    return {each.fan: each.verdict.value for each in found.standings}


def test_the_words_in_a_list() -> None:
    found = ranking(
        candidate("Sedge", 100.0),
        candidate("Bracken", 99.8, 0.3),
        candidate("Tormentil", 98.6, 0.9),
        candidate("Bilberry", 92.0),
    )
    assert words(found) == {
        "Sedge": "leader",
        "Bracken": "tied with the leader",
        "Tormentil": "not resolved",
        "Bilberry": "behind",
    }
    assert [each.fan for each in found.standings] == ["Sedge", "Bracken", "Tormentil", "Bilberry"]
    assert found.best == ("Sedge", "Bracken", "Tormentil")
    assert found.standings[3].rank == (4, 4)
    assert [(pair.a, pair.b) for pair in found.pairs][:3] == [
        ("Sedge", "Bracken"),
        ("Sedge", "Tormentil"),
        ("Sedge", "Bilberry"),
    ]
    assert found.pairs[2].verdict is Verdict.AHEAD
    assert found.pairs[2].difference == pytest.approx(8.0)


def test_less_is_better_turns_the_list_but_not_the_numbers() -> None:
    found = ranking(candidate("Sedge", 100.0), candidate("Bracken", 90.0), merit=Merit.LESS)
    assert [each.fan for each in found.standings] == ["Bracken", "Sedge"]
    (pair,) = found.pairs
    assert pair.verdict is Verdict.AHEAD
    assert pair.difference == pytest.approx(-10.0)
    assert pair.high < 0.0
    assert found.best == ("Bracken",)


def test_equal_values_stand_by_name_whatever_the_order_of_entry() -> None:
    fans = [candidate(name, 100.0) for name in ("Sedge", "Bracken", "Heather")]
    first, second = ranking(*fans), ranking(*fans[::-1])
    assert [each.fan for each in first.standings] == ["Bracken", "Heather", "Sedge"]
    assert first.as_dict() == second.as_dict()


def test_one_sample_each_is_not_resolved_and_says_what_would_help() -> None:
    # A tie that is found in four of five cases needs (1.645 + 1.282) √(2 V) < 2, V < 0.233. V is 1.21 now, 1.19 with
    # any number of mountings of the one sample, and 0.20 with five more samples.
    fans = []
    for name in ("Sedge", "Bracken"):
        trials = 100.0 + 1.1 * normal_draws(f"private/{name}", M)
        parts = VarianceParts(1.1**2 - 0.02, 0.04, (2,))
        fans.append(Candidate(name, 100.0, trials, parts, How.MEASURED, 1, 2, name))
    found = ranking(*fans)
    assert words(found) == {"Bracken": "leader", "Sedge": "not resolved"}
    pair = found.pairs[0].as_dict()
    assert (pair["mountings_needed"], pair["settles"]) == (None, "more samples")
    assert pair["samples_needed"] == 5


def test_behind_the_leader_but_not_excluded_as_best_is_not_resolved() -> None:
    # Ten fans, the second to last just significantly below the leader by the pair alone.
    fans = [candidate(f"Fan {place}", 100.0) for place in range(9)]
    found = ranking(*fans, candidate("Late", 98.4), margin=Margin(0.5))
    assert "Late" in found.best
    pair = next(each for each in found.pairs if (each.a, each.b) == ("Fan 0", "Late"))
    assert pair.verdict is Verdict.AHEAD
    assert words(found)["Late"] == "not resolved"


@pytest.mark.parametrize(("gap", "margin"), [(2.5, 0.01), (1.5, 2.0)])
def test_no_fan_is_named_the_best_that_no_pair_shows_ahead(gap: float, margin: float) -> None:
    # 2.5 apart with a spread of 1.4 excludes the second one-sidedly (1.77 > 1.645), but not the two-sided pair
    # (1.77 < 1.960); 1.5 apart without any spread lies within a margin of 2.
    spread = 1.0 if margin < 1.0 else 0.001
    found = ranking(
        candidate("Sedge", 30.0, spread),
        candidate("Bracken", 30.0 + gap, spread),
        merit=Merit.LESS,
        margin=Margin(margin, MarginKind.ABSOLUTE),
    )
    assert found.pairs[0].verdict in (Verdict.NOT_RESOLVED, Verdict.TIED)
    assert found.best == ("Sedge", "Bracken")


def test_the_possible_bests_are_all_that_are_not_behind() -> None:
    fans = [candidate(f"Fan {place}", 100.0 - 0.8 * place) for place in range(9)]
    found = ranking(*fans, margin=Margin(0.05))
    behind = {fan for fan, word in words(found).items() if word == "behind"}
    assert behind
    assert set(found.best) == {each.fan for each in fans} - behind


@pytest.mark.parametrize("merit", list(Merit))
def test_bounds_stay_listed_and_an_open_end_never_leads(merit: Merit) -> None:
    sign = 1.0 if merit is Merit.MORE else -1.0
    open_side, sure_side = (
        (Bound.AT_MOST, Bound.AT_LEAST) if merit is Merit.MORE else (Bound.AT_LEAST, Bound.AT_MOST)
    )
    found = ranking(
        candidate("Perhaps", 100.0 + sign * 20, bound=open_side),
        candidate("Surely", 100.0 + sign * 10, bound=sure_side),
        candidate("Plain", 100.0),
        merit=merit,
    )
    assert words(found) == {"Perhaps": "not resolved", "Surely": "leader", "Plain": "behind"}
    assert found.standings[0].rank == (1, 3)
    first = found.standings[0].as_dict()
    assert first["bound"] == open_side.value
    assert (first["low"] is None, first["high"] is None) == (merit is Merit.MORE, merit is Merit.LESS)
    assert found.best == ("Perhaps", "Surely")


def test_a_value_that_is_not_unique_is_ranked_by_its_range() -> None:
    plain = candidate("Heath", 97.0)
    ends = Ends(90.0, 97.0, plain.trials - 7.0, plain.trials)
    twofold = replace(plain, fan="Twofold", value=93.5, bound=Bound.RANGE, ends=ends)
    found = ranking(candidate("Sedge", 100.0), candidate("Moss", 93.0), twofold, candidate("Last", 80.0))
    assert [each.fan for each in found.standings] == ["Sedge", "Twofold", "Moss", "Last"]
    assert words(found) == {"Sedge": "leader", "Twofold": "behind", "Moss": "behind", "Last": "behind"}
    assert (found.standings[1].rank, found.standings[2].rank) == ((2, 3), (2, 3))
    assert found.standings[1].high - found.standings[1].low > 7.0
    against_moss = next(each for each in found.pairs if (each.a, each.b) == ("Twofold", "Moss"))
    assert against_moss.verdict is Verdict.NOT_RESOLVED


def test_the_documented_json() -> None:
    found = ranking(
        candidate("Sedge", 100.0), candidate("Bracken", 99.0), excluded=(Excluded("Rush", "no run yet"),)
    )
    document = json.loads(json.dumps(found.as_dict(), allow_nan=False))
    assert list(document) == [
        "schema", "measure", "definition", "version", "unit", "conditions", "margin",
        "standings", "pairs", "best", "excluded", "bridges", "prices", "worth",
    ]  # fmt: skip
    assert document["schema"] == "stillroom/standings/1"
    assert document["margin"] == {"size": 2.0, "kind": "absolute"}
    assert document["excluded"] == [{"fan": "Rush", "why": "no run yet", "measured": False}]
    assert list(document["standings"][0]) == [
        "fan", "value", "low", "high", "bound", "ends", "rank", "verdict", "how", "samples", "mountings",
        "marks", "key",
    ]  # fmt: skip
    first = document["standings"][0]
    assert (first["fan"], first["value"], first["rank"], first["key"]) == (
        "Sedge",
        100.0,
        [1, 2],
        "key-Sedge",
    )
    assert (first["how"], first["bound"], first["samples"], first["mountings"]) == ("measured", "", 1, 2)
    assert first["low"] == pytest.approx(100.0 - 1.96 * np.hypot(3.0, 0.5), abs=0.4)
    assert set(document["pairs"][0]) >= {"a", "b", "difference", "low", "high", "verdict", "mountings_needed"}


def test_units_at_the_door() -> None:
    found = ranking(
        *(replace(each, value=each.value * HOUR, trials=each.trials * HOUR) for each in (
            candidate("Sedge", 100.0), candidate("Bracken", 99.0))),
        margin=Margin(2.0 * HOUR),
    )  # fmt: skip
    shown = found.in_unit("m³/h")
    assert shown.unit == "m³/h"
    assert shown.standings[0].value == pytest.approx(100.0)
    assert shown.pairs[0].difference == pytest.approx(1.0)
    assert shown.margin.size == pytest.approx(2.0)
    assert shown.pairs[0].verdict is found.pairs[0].verdict
    back = shown.in_unit("m³/s")
    assert back.standings[0].low == pytest.approx(found.standings[0].low)
    relative = ranking(candidate("Sedge", 100.0), margin=Margin(0.05, MarginKind.RELATIVE))
    assert relative.in_unit("CFM").margin.size == 0.05


def test_a_temperature_shifts_and_its_difference_does_not() -> None:
    found = ranking(candidate("Sedge", 300.15), candidate("Bracken", 299.15), unit="K").in_unit("°C")
    assert found.standings[0].value == pytest.approx(27.0)
    assert found.pairs[0].difference == pytest.approx(1.0)
    assert found.margin.size == pytest.approx(2.0)


def test_units_that_do_not_fit_are_refused() -> None:
    found = ranking(candidate("Sedge", 100.0))
    with pytest.raises(Contradiction):
        found.in_unit("Pa")
    with pytest.raises(UnknownUnit):
        found.in_unit("furlong")


def test_relative_margin_is_a_share_of_the_mean() -> None:
    margin = Margin(0.05, MarginKind.RELATIVE)
    assert margin.between(np.array([110.0]), np.array([90.0])) == pytest.approx([5.0])
    said = {
        gap: ranking(candidate("Sedge", 100.0), candidate("Bracken", 100.0 - gap), margin=margin)
        .pairs[0]
        .verdict
        for gap in (0.0, 4.0, 6.0)
    }
    assert said == {0.0: Verdict.TIED, 4.0: Verdict.NOT_RESOLVED, 6.0: Verdict.AHEAD}


def test_one_fan_and_none() -> None:
    alone = ranking(candidate("Sedge", 100.0))
    assert (words(alone), alone.best, alone.pairs) == ({"Sedge": "leader"}, ("Sedge",), ())
    assert alone.standings[0].rank == (1, 1)
    nobody = ranking(excluded=(Excluded("Rush", "no run yet"),))
    assert (nobody.standings, nobody.best) == ((), ())
    with pytest.raises(NotPossible):
        ranking()


def test_what_cannot_be_ranked_is_refused() -> None:
    sedge, bracken = candidate("Sedge", 100.0), candidate("Bracken", 99.0)
    with pytest.raises(BadInput, match="twice"):
        ranking(sedge, sedge)
    with pytest.raises(BadInput, match="twice"):
        ranking(sedge, excluded=(Excluded("Sedge", "late"),))
    with pytest.raises(BadInput, match="Bracken"):
        ranking(sedge, replace(bracken, trials=bracken.trials[:50]))
    with pytest.raises(BadInput):
        replace(sedge, value=float("nan"))
    with pytest.raises(BadInput):
        replace(sedge, bound=Bound.RANGE)
    with pytest.raises(BadInput):
        replace(sedge, samples=3)
    with pytest.raises(BadInput):
        Margin(-0.1)
    with pytest.raises(OutOfRange):
        ranking(replace(sedge, trials=sedge.trials[:10]))


def test_two_hundred_fans() -> None:
    fans = [candidate(f"Fan {place:03}", 100.0 - 0.1 * place) for place in range(200)]
    started = time.process_time()
    found = ranking(*fans, margin=Margin(0.05, MarginKind.RELATIVE))
    assert time.process_time() - started < 3.0  # of processor time; about 1 s
    assert len(found.pairs) == 19_900
    assert found.standings[0].verdict is StandingVerdict.LEADER
