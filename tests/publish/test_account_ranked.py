"""What an account says of rankings: nothing that the pairs don't bear out, by random fields, and by hand-made ones."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stillroom.compare.candidates import (
    Bound,
    Candidate,
    Excluded,
    How,
    LegacyNumber,
    Margin,
    MarginKind,
    StandingVerdict,
)
from stillroom.compare.prices import price_list
from stillroom.compare.ranking import rank
from stillroom.compare.standing import PairStanding, Ranking
from stillroom.core.combine import VarianceParts
from stillroom.core.draws import normal_draws
from stillroom.core.multiple import Merit
from stillroom.publish.account.beside import left_out_sentences, mark_sentences, price_sentences
from stillroom.publish.account.ranked import Told, ranked_sentences
from stillroom.publish.account.sentences import Kind, Sentence
from stillroom.records.products import Price

M = 400
NAME = re.compile(r"F\d+")


def candidate(fan: str, value: float, sd: float, bound: Bound = Bound.NONE, samples: int = 2) -> Candidate:
    trials = value + 0.3 * normal_draws("shared", M) + sd * normal_draws(f"own/{fan}", M)
    parts = VarianceParts(sd * sd / 4, sd * sd * 1.5, (2,) * samples, {})
    return Candidate(fan, value, trials, parts, How.MEASURED, samples, 2 * samples, f"key-{fan}", bound=bound)


@st.composite
def fields(draw: st.DrawFn) -> tuple[Ranking, str]:
    """A random field, and the fan under review."""
    count = draw(st.integers(1, 7))
    merit = draw(st.sampled_from(Merit))
    bounds = st.sampled_from([Bound.NONE] * 5 + [Bound.AT_LEAST, Bound.AT_MOST])
    fans = [
        candidate(
            f"F{number}",
            draw(st.floats(50.0, 56.0)),
            draw(st.sampled_from([0.05, 0.3, 1.0])),
            draw(bounds),
            draw(st.integers(1, 2)),
        )
        for number in range(count)
    ]
    legacy = [LegacyNumber("F90", 60.0, 59.0, 61.0, "old"), LegacyNumber("F91", 40.0, None, None, "older")]
    kind = draw(st.sampled_from(MarginKind))
    size = draw(st.sampled_from([0.0, 0.5, 2.0])) * (0.02 if kind is MarginKind.RELATIVE else 1.0)
    found = rank(
        fans,
        measure="airflow",
        definition="",
        version="1",
        unit="m³/h",
        conditions={},
        margin=Margin(size, kind),
        merit=merit,
        legacy=draw(st.sampled_from([(), legacy])),
        excluded=draw(st.sampled_from([(), (Excluded("F99", "no run that can be used"),)])),
    )
    costs = draw(st.lists(st.floats(5.0, 30.0), min_size=count, max_size=count))
    asked = [Price(fan=each.fan, price=cost, currency="EUR", date="2026-03-01")
             for each, cost in zip(fans, costs, strict=True)]  # fmt: skip
    found = replace(found, prices=price_list(found, asked, merit))
    return found, draw(st.sampled_from([f"F{number}" for number in range(count)] + ["F90", "F99", "F77"]))


def said_of(found: Ranking, highlight: str = "") -> list[Sentence]:
    told = Told(found, "airflow-rad27", "Airflow through rad27")
    return [*ranked_sentences(told, highlight), *price_sentences(told)]


def bears_out_win(found: Ranking, better: str, worse: str) -> bool:
    """Whether a pair's interval lies beyond zero and its gap beyond the margin, from the numbers of the pair alone."""
    pair = pair_of(found, better, worse)
    values = {each.fan: each.value for each in found.standings}
    margin = found.margin.size
    if found.margin.kind is MarginKind.RELATIVE:
        margin *= (abs(values[better]) + abs(values[worse])) / 2.0
    sign = 1.0 if pair.a == better else -1.0
    ends = sorted((sign * pair.low, sign * pair.high))
    gap = values[better] - values[worse]
    up = ends[0] > 0.0 and gap > margin
    down = ends[1] < 0.0 and gap < -margin
    return up or down


def pair_of(found: Ranking, one: str, other: str) -> PairStanding:
    return next(each for each in found.pairs if {each.a, each.b} == {one, other})


@given(fields())
@settings(max_examples=150, deadline=None)
def test_no_win_is_said_inside_the_margin_or_unresolved(drawn: tuple[Ranking, str]) -> None:
    found, highlight = drawn
    by_fan = {each.fan: each for each in found.standings}
    for each in said_of(found, highlight):
        assert each.text.endswith(".")
        assert NAME.search(each.text) is None or set(NAME.findall(each.text)) == set(each.fans)
        if each.kind is Kind.AHEAD:
            leader, *behind = each.fans
            assert each.text.startswith(f"{leader} is ahead of ")
            assert behind
            for fan in behind:
                assert bears_out_win(found, leader, fan)
                assert by_fan[fan].verdict is StandingVerdict.BEHIND
        elif each.kind is Kind.BEST and "is ahead of" in each.text:
            ranked = [one for one in found.standings if one.how is not How.LEGACY and one.fan != each.fans[0]]
            assert found.best == each.fans
            assert all(bears_out_win(found, each.fans[0], one.fan) for one in ranked)
        elif each.kind is Kind.BEST and "too close to call" in each.text:
            assert each.fans == found.best
            assert len(found.best) > 1
        elif each.kind is Kind.PLACE and " is " in each.text and "under review" not in each.text:
            check_place(found, each)
        elif each.kind is Kind.ALIKE:
            for fan in each.fans[1:]:
                assert not bears_out_win(found, each.fans[0], fan)
                assert by_fan[fan].verdict is StandingVerdict.TIED
        elif each.kind is Kind.UNRESOLVED:
            assert all(by_fan[fan].verdict is StandingVerdict.NOT_RESOLVED for fan in each.fans[1:])
        elif each.kind is Kind.PRICE and (" buys " in each.text or " saves " in each.text):
            if "as measured" not in each.text and "will not notice" not in each.text:
                assert bears_out_win(found, each.fans[1], each.fans[0])
        else:
            assert "ahead" not in each.text
            assert "behind" not in each.text


def check_place(found: Ranking, said: Sentence) -> None:
    own = said.fans[0]
    named: list[str] = []
    for part in said.text.removeprefix(f"{own} is ").rstrip(".").split("; "):
        fans = NAME.findall(part)
        named += fans
        for fan in fans:
            if part.startswith("ahead of"):
                assert bears_out_win(found, own, fan)
            elif part.startswith("behind"):
                assert bears_out_win(found, fan, own)
            else:
                assert part.startswith("too close to call against")
    assert sorted([own, *named]) == sorted(each.fan for each in found.standings if each.how is not How.LEGACY)


@given(fields())
@settings(max_examples=60, deadline=None)
def test_every_ranked_fan_is_told_of_and_no_fan_twice_with_two_verdicts(drawn: tuple[Ranking, str]) -> None:
    found, _ = drawn
    said = said_of(found)
    best = next(each for each in said if each.kind is Kind.BEST)
    ahead = next((each for each in said if each.kind is Kind.AHEAD), None)
    behind = set(ahead.fans[1:]) if ahead else set()
    ranked = {each.fan for each in found.standings if each.how is not How.LEGACY}
    assert behind | set(best.fans) == ranked
    assert not behind & set(best.fans)
    apart = {fan for each in said if each.kind in (Kind.ALIKE, Kind.UNRESOLVED) for fan in each.fans[1:]}
    assert (
        apart | behind | {each.fan for each in found.standings if each.verdict is StandingVerdict.LEADER}
        == ranked
    )
    legacy = {each.fan for each in found.standings if each.how is How.LEGACY}
    assert legacy == {fan for each in said if each.kind is Kind.LEGACY for fan in each.fans}


def of(*fans: Candidate, margin: float = 0.5, gone: tuple[Excluded, ...] = ()) -> Ranking:
    return rank(
        fans, measure="airflow", definition="", version="1", unit="m³/h", conditions={},
        margin=Margin(margin), merit=Merit.MORE, excluded=gone,
    )  # fmt: skip


def test_the_sentences_of_a_clear_field() -> None:
    found = of(candidate("Sedge", 60.0, 0.1), candidate("Bracken", 55.0, 0.1), candidate("Sundew", 54.9, 0.1))
    texts = {(each.kind, each.text) for each in said_of(found, "Bracken")}
    kinds = [kind for kind, _ in texts]
    assert Kind.ALIKE not in kinds
    assert Kind.UNRESOLVED not in kinds
    lines = [text for _, text in texts]
    assert any(re.fullmatch(
        r"By airflow through rad27 Sedge, with 60\.\d+\s?m³/h \(.+\), is ahead of the two other fans that could be"
        r" ranked\.", each) for each in lines)  # fmt: skip
    assert any(re.fullmatch(
        r"Sedge is ahead of Bracken by 5\.\d+\sm³/h \(.+\) and Sundew by 5\.\d+\sm³/h \(.+\)\.", each)
        for each in lines)  # fmt: skip
    assert "Bracken is behind Sedge; too close to call against Sundew." in lines
    assert any(each.startswith("Bracken, the fan under review, stands 2nd") for each in lines)


def test_a_pair_won_alone_is_no_win_while_the_fan_may_be_the_best() -> None:
    values, sds = (50.03, 50.66, 49.12, 49.8), (0.2, 0.2, 0.2, 0.3)
    found = of(
        *(candidate(f"F{at}", *each) for at, each in enumerate(zip(values, sds, strict=True))), margin=0.0
    )
    assert bears_out_win(found, "F1", "F0"), "by the pair alone it would be one"
    assert "F0" in found.best
    asked = [Price(fan=f"F{at}", price=10.0 + at, currency="EUR", date="2026-03-01") for at in range(4)]
    said = said_of(replace(found, prices=price_list(found, asked, Merit.MORE)), "F0")
    ahead = next(each for each in said if each.kind is Kind.AHEAD)
    assert "F0" not in ahead.fans
    assert any("F0 is ahead of F2; too close to call against F1" in each.text for each in said)
    step = next(each.text for each in said if each.kind is Kind.PRICE and "from F0 to F1" in each.text)
    assert "as measured, not resolved" in step


def test_a_gap_shown_to_be_small_is_told_as_such() -> None:
    found = of(candidate("Sedge", 60.0, 0.05), candidate("Bracken", 59.9, 0.05), margin=2.0)
    said = {each.kind: each.text for each in said_of(found)}
    assert said[Kind.ALIKE].endswith("it is shown to be less than 2 m³/h.")
    assert "too close to call" in said[Kind.BEST]
    assert Kind.AHEAD not in said


def test_what_would_settle_a_gap_is_told() -> None:
    found = of(candidate("Sedge", 60.0, 1.0), candidate("Bracken", 58.0, 1.0))
    said = {each.kind: each.text for each in said_of(found)}
    assert re.search(r"Not resolved, Sedge against Bracken: .+ further (mountings|samples) of each would settle it\.",
                     said[Kind.UNRESOLVED])  # fmt: skip


def test_fans_that_are_left_out_stand_with_their_reason() -> None:
    why = "no run; expected a run through rad27"
    gone = (Excluded("Heath", why), Excluded("Ling", why), Excluded("Moss", "92 mm, not 120 mm"))
    told = Told(of(candidate("Sedge", 60.0, 1.0), gone=gone), "", "Airflow through rad27")
    assert [(each.fans, each.text) for each in left_out_sentences(told)] == [
        (("Heath", "Ling"), "Not ranked, Heath and Ling: no run; needed: a run through rad27."),
        (("Moss",), "Not ranked, Moss: 92 mm, not 120 mm."),
    ]


def test_marks_are_told_once_with_their_fans() -> None:
    sedge = replace(candidate("Sedge", 60.0, 1.0, samples=1), marks=("air not recorded",))
    bracken = replace(
        candidate("Bracken", 58.0, 1.0, samples=1), marks=("air not recorded",), how=How.MODELLED
    )
    told = Told(of(sedge, bracken), "", "Airflow through rad27")
    said = [each.text for each in mark_sentences(told, {"Sedge": "under dispute since 2026-03-01"})]
    assert said == [
        "One sample only, so that another unit may do otherwise: Sedge and Bracken.",
        "Modelled from measurements, not measured as it stands: Bracken.",
        "Marked “air not recorded”: Sedge and Bracken.",
        "The number of Sedge is under dispute since 2026-03-01.",
    ]


def test_nobody_ranked_is_told() -> None:
    found = of(gone=(Excluded("Heath", "no run"),))
    assert [each.text for each in said_of(found)] == ["No fan could be ranked by airflow through rad27."]


@pytest.mark.parametrize(("fan", "words"), [("Heath", "is not ranked"), ("Nobody", "it takes no part")])
def test_a_fan_under_review_that_has_no_place_is_told(fan: str, words: str) -> None:
    found = of(candidate("Sedge", 60.0, 1.0), gone=(Excluded("Heath", "no run"),))
    said = next(each for each in said_of(found, fan) if each.kind is Kind.PLACE)
    assert words in said.text
