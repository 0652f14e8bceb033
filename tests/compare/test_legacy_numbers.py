"""Numbers from before, without raw data, in a ranking: under the measured fans, marked, and without a rank."""

from __future__ import annotations

import json

import pytest

from stillroom.compare.candidates import Candidate, Excluded, How, LegacyNumber, Margin
from stillroom.compare.ranking import rank
from stillroom.compare.standing import Ranking, Standing
from stillroom.core.combine import VarianceParts
from stillroom.core.draws import normal_draws
from stillroom.core.multiple import Merit, Verdict
from stillroom.errors import BadInput

M = 2000


def measured(fan: str, value: float, sd: float = 0.5) -> Candidate:
    trials = value + sd * normal_draws(f"private/{fan}", M)
    return Candidate(fan, value, trials, VarianceParts(sd * sd / 2, sd * sd, (2,)), How.MEASURED, 1, 2, fan)


def legacy(fan: str, value: float, half: float | None = None) -> LegacyNumber:
    ends = (None, None) if half is None else (value - half, value + half)
    return LegacyNumber(fan, value, *ends, f"key-{fan}", ("legacy",))


def ranking(*numbers: LegacyNumber, merit: Merit = Merit.MORE, fans: tuple[Candidate, ...] = ()) -> Ranking:
    return rank(
        fans or (measured("Sedge", 100.0), measured("Bracken", 99.9), measured("Bilberry", 90.0)),
        measure="free-airflow", definition="", version="1", unit="m³/h", conditions={},
        margin=Margin(2.0), merit=merit, legacy=numbers,
    )  # fmt: skip


def line(found: Ranking, fan: str) -> Standing:
    return next(each for each in found.standings if each.fan == fan)


def test_it_stands_under_the_measured_with_nothing_said_where_it_has_no_interval() -> None:
    found = ranking(legacy("Rush", 95.0))
    assert [each.fan for each in found.standings] == ["Sedge", "Bracken", "Bilberry", "Rush"]
    rush = line(found, "Rush")
    assert (rush.verdict.value, rush.how, rush.rank) == ("not resolved", How.LEGACY, None)
    assert (rush.samples, rush.mountings, rush.marks) == (0, 0, ("legacy",))
    told = json.loads(json.dumps(rush.as_dict(), allow_nan=False))
    assert (told["low"], told["high"], told["how"], told["rank"]) == (None, None, "legacy", None)
    assert not any("Rush" in (pair.a, pair.b) for pair in found.pairs)


@pytest.mark.parametrize("half", [None, 0.5])
def test_it_changes_nothing_for_the_measured_fans(half: float | None) -> None:
    alone, among = ranking(), ranking(legacy("Rush", 130.0, half), legacy("Fern", 95.0, half))
    assert [each.fan for each in among.standings] == ["Sedge", "Bracken", "Bilberry", "Rush", "Fern"]
    assert among.best == alone.best == ("Sedge", "Bracken")
    for each in alone.standings:
        assert line(among, each.fan) == each
    measured_pairs = [pair for pair in among.pairs if {pair.a, pair.b} <= {"Sedge", "Bracken", "Bilberry"}]
    assert tuple(measured_pairs) == alone.pairs


@pytest.mark.parametrize(
    ("value", "half", "word"),
    [
        (130.0, 1.0, "not resolved"),  # above the leader: the pair says so, the list claims nothing
        (99.9, 0.2, "tied with the leader"),
        (97.0, 8.0, "not resolved"),
        (93.0, 1.0, "behind"),
        (80.0, 1.0, "behind"),
    ],
)
def test_with_an_interval_it_is_judged_against_the_best_measured_fan(
    value: float, half: float, word: str
) -> None:
    found = ranking(legacy("Rush", value, half))
    rush = line(found, "Rush")
    assert (rush.verdict.value, rush.rank) == (word, None)
    assert (rush.low, rush.high) == (value - half, value + half)
    assert line(found, "Sedge").verdict.value == "leader"
    assert len([pair for pair in found.pairs if "Rush" in (pair.a, pair.b)]) == 3


def test_the_pair_says_ahead_where_the_list_does_not() -> None:
    pair = next(each for each in ranking(legacy("Rush", 130.0, 1.0)).pairs if each.b == "Rush")
    assert (pair.a, pair.verdict) == ("Sedge", Verdict.BEHIND)
    assert pair.as_dict()["mountings_needed"] == 0


def test_the_interval_of_a_difference_holds_the_two_uncertainties() -> None:
    """Independent normal errors: half-widths add in squares (JCGM 100:2008, 5.1.2)."""
    found = ranking(legacy("Rush", 95.0, 1.96), fans=(measured("Sedge", 100.0, 1.0),))
    (pair,) = found.pairs
    assert (pair.high - pair.low) / 2.0 == pytest.approx(1.96 * 2**0.5, rel=0.06)


def test_an_uneven_interval_stays_uneven() -> None:
    each = LegacyNumber("Rush", 95.0, 94.0, 99.0, "k").as_candidate(M)
    assert each is not None
    assert (each.trials < 94.0).mean() == pytest.approx(0.025, abs=0.012)
    assert (each.trials > 99.0).mean() == pytest.approx(0.025, abs=0.012)


def test_less_is_better_turns_it_too() -> None:
    found = ranking(legacy("Rush", 80.0, 0.5), merit=Merit.LESS)
    assert [each.fan for each in found.standings] == ["Bilberry", "Bracken", "Sedge", "Rush"]
    assert line(found, "Bilberry").verdict.value == "leader"


def test_a_list_of_legacy_numbers_alone_has_no_leader() -> None:
    found = rank(
        (), measure="m", definition="", version="1", unit="m³/h", conditions={}, margin=Margin(2.0),
        merit=Merit.MORE, legacy=(legacy("Rush", 95.0), legacy("Fern", 99.0, 1.0), legacy("Moss", 20.0, 1.0)),
    )  # fmt: skip
    assert [each.fan for each in found.standings] == ["Fern", "Rush", "Moss"]
    assert {each.verdict.value for each in found.standings} == {"not resolved"}
    assert found.best == ()


def test_what_contradicts_itself_is_refused() -> None:
    with pytest.raises(BadInput, match="one end"):
        LegacyNumber("Rush", 95.0, 94.0, None, "k")
    with pytest.raises(BadInput, match="holds 95"):
        LegacyNumber("Rush", 95.0, 96.0, 97.0, "k")
    with pytest.raises(BadInput, match="finite"):
        LegacyNumber("Rush", float("nan"), None, None, "k")
    with pytest.raises(BadInput, match="twice"):
        ranking(legacy("Sedge", 95.0))


def test_a_fan_that_is_excluded_may_stand_beside_it() -> None:
    found = rank(
        (), measure="m", definition="", version="1", unit="m³/h", conditions={}, margin=Margin(2.0),
        merit=Merit.MORE, legacy=(legacy("Rush", 95.0),), excluded=(Excluded("Moss", "no run"),),
    )  # fmt: skip
    assert found.standings[0].rank is None
    assert found.in_unit("CFM").standings[0].value == pytest.approx(95.0 / 1.69901, rel=1e-4)
