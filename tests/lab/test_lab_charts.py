"""Charts from a lab's results: claims, obstacles, panels and curves against the lab's own numbers and the truth."""

from __future__ import annotations

from dataclasses import replace

import pytest

from stillroom import wording
from stillroom.compare.standing import Ranking
from stillroom.core.claims import ClaimVerdict
from stillroom.core.systems import System
from stillroom.demo.truth import Truth
from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab.book import Book, open_book
from stillroom.lab.claims import check_claims
from stillroom.lab.field import Asked
from stillroom.lab.pictures import multiples, pictures
from stillroom.lab.pictures.claim_pictures import claim_cells, claim_chart
from stillroom.lab.pictures.curve_pictures import curves
from stillroom.lab.pictures.obstacle_pictures import obstacle_curves
from stillroom.lab.ranking import rank_fans
from stillroom.lab.recipes import Graph, build_graph
from stillroom.measures import Condition, measure_named
from stillroom.records.products import Claim
from stillroom.store.lab import Lab
from stillroom.vocabulary import from_si

Sound = tuple[Lab, Truth]


@pytest.fixture(scope="module")
def opened(sound: Sound) -> tuple[Lab, Book, Graph]:
    lab, _ = sound
    book = open_book(lab)
    return lab, book, build_graph(book)


def ranked(opened: tuple[Lab, Book, Graph], measure: str, through: str = "", **more: object) -> Ranking:
    lab, book, graph = opened
    condition = Condition(obstacle=through, **more)  # type: ignore[arg-type]
    return rank_fans(lab, book, graph, Asked(measure_named(measure), condition))


def told(fan: str, quantity: str, value: float, unit: str, condition: str = "", **more: float) -> Claim:
    return Claim(fan=fan, quantity=quantity, value=value, unit=unit, condition=condition, **more)


def test_boxes_of_a_sound_lab_are_not_found_to_fail(opened: tuple[Lab, Book, Graph]) -> None:
    lab, book, graph = opened
    checks = check_claims(lab, book, graph)
    assert len(checks) == len(book.claims) > 12
    assert not [each.claim.name for each in checks if each.is_failure]
    held = [each for each in checks if each.verdict is ClaimVerdict.WITHIN_TOLERANCE]
    assert len(held) > len(checks) / 2


def test_a_claim_is_judged_by_the_number_of_the_ranking(opened: tuple[Lab, Book, Graph]) -> None:
    lab, book, graph = opened
    standing = next(each for each in ranked(opened, "free-airflow").standings if each.samples > 1)
    fan, truth = standing.fan, standing.value
    claims = [
        told(fan, "airflow", from_si(1.15 * truth, "CFM"), "CFM", "free delivery, 12 V"),
        told(fan, "maximum airflow", from_si(1.15 * truth, "m³/h"), "m³/h", "12 V", tolerance=0.2),
        told(fan, "air flow", from_si(1.15 * truth, "m³/h"), "m³/h", "12 V"),
        told(fan, "flow", from_si(1.15 * truth, "m³/h"), "m³/h", "free delivery, 7 V"),
        told(fan, "noise", 24.0, "dBA", "1 m, 12 V"),
        told(fan, "q", 50.0, "mmH₂O", "free delivery, 12 V"),
        told(fan, "flow rate", 50.0, "m³/h", "free delivery, 12 V, in a good mood"),
        told("Nobody", "airflow", 50.0, "m³/h", "free delivery, 12 V"),
    ]
    found = check_claims(lab, replace(book, claims={each.name: each for each in claims}), graph)
    verdicts = [each.words for each in found]
    assert verdicts[:2] == ["outside, 13 % below the claim (no tolerance is printed)", "within tolerance"]
    assert found[0].measured is not None
    assert (found[0].measured.value, found[0].measured.key) == (truth, standing.key)
    assert found[0].ratio == pytest.approx(1 / 1.15)
    assert found[0].is_failure
    for each, why in zip(
        verdicts[2:], ("condition", "7 V", "not measured", "unit", "good mood", "not measured"), strict=True
    ):
        assert each.startswith("not checkable"), each
        assert why in each


def test_the_chart_of_claims_puts_failures_first_and_keeps_the_boxs_units(
    opened: tuple[Lab, Book, Graph],
) -> None:
    lab, book, graph = opened
    standing = next(each for each in ranked(opened, "free-airflow").standings if each.samples > 1)
    bad = told(standing.fan, "airflow", from_si(1.3 * standing.value, "CFM"), "CFM", "free delivery, 12 V")
    claims = dict(book.claims) | {bad.name: bad}
    checks = check_claims(lab, replace(book, claims=claims), graph)
    picture, name = claim_chart(book, checks)
    assert name == "claims"
    assert picture.rows[0].label == f"{standing.fan}, free airflow"
    assert picture.rows[0].ratio == pytest.approx(100 / 1.3, rel=1e-6)
    assert "CFM" in picture.rows[0].claim
    assert "CFM" in picture.rows[0].measured
    assert picture.title == f"{standing.fan}’s free airflow is 23 % below its box"
    assert len(claim_cells(checks[0])) == 10
    with pytest.raises(NotPossible, match="no claim"):
        claim_chart(book, ())


def test_obstacles_are_drawn_with_their_law_near_the_truth(
    sound: Sound, opened: tuple[Lab, Book, Graph]
) -> None:
    lab, book, graph = opened
    picture, _ = obstacle_curves(lab, book, graph, ())
    assert len(picture.curves) == sum(each.kind == "obstacle" for each in graph.curves)
    # The demo's own laws (a, b per tile as it tells them, each piece a few per cent off): within 10 % of the least
    # and greatest of its kind at the greatest flow read.
    laws = {"mesh": (0.035, 3e-4), "rad27": (0.085, 1.15e-3), "dense": (0.16, 2.6e-3)}
    for short, (a, b) in laws.items():
        curve = next(each for each in picture.curves if each.short.startswith(short))
        q = curve.flow[-1]
        assert curve.drop[-1] == pytest.approx(a * q + b * q * q, rel=0.12)
        assert all(
            low <= drop <= high for low, drop, high in zip(curve.low, curve.drop, curve.high, strict=True)
        )
        assert len(curve.measured) >= 10
        assert curve.law.startswith("Δp = ")
        assert [each for each, _ in curve.parameters] in (["a", "b"], ["c", "n"])
    assert picture.title.endswith("times as much as mesh")
    only, name = obstacle_curves(lab, book, graph, ("rad27",))
    assert [each.short for each in only.curves] == ["rad27"]
    assert name == "obstacles-rad27"
    with pytest.raises(UnknownThing, match="nothing"):
        obstacle_curves(lab, book, graph, ("nothing",))


def test_obstacles_honour_the_units_of_the_lab(opened: tuple[Lab, Book, Graph]) -> None:
    lab, book, graph = opened
    usual, _ = obstacle_curves(lab, book, graph, ("rad27",))
    shown = replace(book, settings=replace(book.settings, units={"flow": "CFM", "pressure": "mmH₂O"}))
    other, _ = obstacle_curves(lab, shown, graph, ("rad27",))
    assert (other.x_unit, other.y_unit) == ("CFM", "mmH₂O")
    assert other.curves[0].flow[-1] == pytest.approx(usual.curves[0].flow[-1] * 0.588578, rel=1e-5)
    assert other.curves[0].drop[-1] == pytest.approx(usual.curves[0].drop[-1] / 9.80665, rel=1e-9)
    # The law in the new units gives the same curve.
    if usual.curves[0].law.endswith("aQ + bQ²"):
        q = other.curves[0].flow[-1]
        a, b = (_number(words) for _, words in other.curves[0].parameters)
        assert a * q + b * q * q == pytest.approx(other.curves[0].drop[-1], rel=0.02)


def _number(words: str) -> float:
    first = words.split("\u00a0", maxsplit=1)[0].split(" (", maxsplit=1)[0]
    value, _, power = first.partition(" · 10")
    raised = power.translate(str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789"))
    return float(value) * 10.0 ** int(raised or 0)


def test_panels_keep_one_order_and_cards_one_axis(opened: tuple[Lab, Book, Graph]) -> None:
    _, book, _ = opened
    found = [ranked(opened, "airflow", each) for each in ("mesh", "rad27", "dense")]
    measure = measure_named("airflow")
    picture, _ = multiples.panels(book, found, measure, fan=found[0].standings[1].fan)
    order = [each.fan for each in found[0].standings]
    assert all([bar.label for bar in each.bars] == order for each in picture.panels)
    for each, ranking in zip(picture.panels, found, strict=True):
        assert {bar.label for bar in each.bars if bar.is_leader_tied} == set(ranking.best)
        assert [bar.label for bar in each.bars if bar.accent] == [order[1]]
    assert "ordered as through mesh" in picture.subtitle
    made = multiples.cards(book, found, measure)
    assert [name.split("-")[1] for _, name in made] == ["1", "2", "3"]
    assert len({card.beside for card, _ in made}) == 1
    assert [card.bars[0].label for card, _ in made] == [each.standings[0].fan for each in found]
    with pytest.raises(Exception, match="2 to 12"):
        multiples.panels(book, found[:1], measure)


def test_two_fans_on_two_tiles_move_twice_as_much(opened: tuple[Lab, Book, Graph]) -> None:
    # Closed form: flows add at equal pressure, and each tile sees the flow of one fan.
    lab, book, graph = opened
    fan = ranked(opened, "airflow", "rad27").standings[0].fan
    one, one_name = curves(lab, book, graph, (fan,), "", ("rad27",), Condition())
    two, two_name = curves(
        lab, book, graph, (fan,), "", ("rad27",), Condition(system=System(beside=2, tiles=2.0))
    )
    assert two.points[0].flow == pytest.approx(2.0 * one.points[0].flow, rel=1e-6)
    assert two.points[0].pressure == pytest.approx(one.points[0].pressure, rel=1e-6)
    assert "modelled for 2 fans side by side" in two.subtitle
    assert two.title == f"What two {fan} side by side move through two tiles of rad27 at full speed"
    assert (
        one.title == f"What {fan} moves through rad27 at full speed"
    )  # one mounting's number is not the fan's
    assert one_name == f"curves-{fan.lower()}-rad27"
    assert two_name == f"{one_name}-beside-2-tiles-2"
    assert one.curves[0].measured
    assert not two.curves[0].measured


def test_stacks_stated_resistances_and_several_crossings_are_drawn(opened: tuple[Lab, Book, Graph]) -> None:
    lab, book, graph = opened
    through = ("rad27 + mesh", "20 Pa at 60 m³/h", "dense")
    picture, _ = curves(lab, book, graph, (), "", through, Condition())
    assert len(picture.loads) == 3
    assert {each.number for each in picture.points} == set(range(1, len(picture.points) + 1))
    odd = [each for each in picture.points if not each.is_unique and each.word == "not unique"]
    assert odd  # the demo has a fan in stall on the dense radiator
    for each in odd:
        assert len(each.crossings) % 2 == 1
        assert [stable for *_, stable in each.crossings] == [k % 2 == 0 for k in range(len(each.crossings))]
        assert each.flow_low is not None
        assert each.flow_high is not None
        assert each.flow_low < each.crossings[0][0] < each.crossings[-1][0] < each.flow_high
    key = " ".join(picture.notes).replace(wording.NO_BREAK, " ")
    for each in picture.points:
        assert f"{each.number} {each.curve} " in key
    single, _ = curves(lab, book, graph, (odd[0].curve,), "", ("dense",), Condition())
    assert single.points[0].number == 0


def test_more_fans_than_are_drawn_are_told(
    opened: tuple[Lab, Book, Graph], monkeypatch: pytest.MonkeyPatch
) -> None:
    lab, book, graph = opened
    monkeypatch.setattr("stillroom.lab.pictures.curve_pictures.MOST_CURVES", 4)
    picture, _ = curves(lab, book, graph, (), "", (), Condition())
    assert len(picture.curves) == 4
    assert "the first four of six fans" in picture.subtitle


def test_bars_without_a_fan_are_refused_with_the_reasons(opened: tuple[Lab, Book, Graph]) -> None:
    _, book, _ = opened
    found = ranked(opened, "free-airflow", speed=9000 / 60)
    assert not found.standings
    with pytest.raises(NotPossible, match="tested from"):
        pictures.bars(book.settings, found, measure_named("free-airflow"), "", 10)
