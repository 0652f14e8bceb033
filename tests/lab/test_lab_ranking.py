"""The whole way from exports to a ranking, against the invented laboratory's own truth."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from stillroom.demo.truth import Truth
from stillroom.errors import BadInput, NotPossible, UnknownThing
from stillroom.lab.book import open_book
from stillroom.lab.field import Asked
from stillroom.lab.ranking import rank_fans
from stillroom.lab.recipes import build_graph
from stillroom.lab.reducing import missing, reduce_lab
from stillroom.lab.tracing import follow
from stillroom.measures import Condition, measure_named
from stillroom.records.acts import Decision, Spread
from stillroom.records.bench import Calibration, Nozzle
from stillroom.records.fields import as_json
from stillroom.store import index, results
from stillroom.store.journal import WITHDRAWN, Note
from stillroom.store.lab import Lab


def ranked(lab: Lab, measure: str, through: str = "", speed: float | None = None, **more):  # type: ignore[no-untyped-def]
    book = open_book(lab)
    asked = Asked(measure_named(measure), Condition(speed, through), **more)
    return rank_fans(lab, book, build_graph(book), asked, workers=1)


@pytest.mark.parametrize(("obstacle", "speed", "word"), [
    ("rad27", None, "full speed"), ("mesh", None, "full speed"), ("rad27", 25.0, "1500 rpm"),
    ("mesh", 20.0, "1200 rpm"),
])  # fmt: skip
def test_airflow_through_an_obstacle_holds_the_truth_of_the_model(
    sound: tuple[Lab, Truth], obstacle: str, speed: float | None, word: str
) -> None:
    lab, truth = sound
    found = ranked(lab, "airflow", obstacle, speed)
    inside = 0
    for each in found.standings:
        true = truth.operating_point(each.fan, obstacle, word).flow
        assert each.value == pytest.approx(true, rel=0.06)
        assert (each.high - each.low) / 2 < 0.08 * each.value
        inside += each.low <= true <= each.high
    assert inside >= len(found.standings) - 1


def test_each_mounting_lies_close_to_its_own_sample(sound: tuple[Lab, Truth]) -> None:
    """Without the spread between samples there is no place to hide: within 1.5 % of the sample's own truth."""
    lab, truth = sound
    found = ranked(lab, "airflow", "rad27", 20.0)
    book = open_book(lab)
    for standing in found.standings:
        result = results.get(lab.database, standing.key)
        assert result is not None
        for mounting, value in result.body["each"].items():
            record = book.mountings[mounting]
            if record.rig == "chamber":
                true = truth.operating_point(record.fan, "rad27", "1200 rpm", record.sample).flow
                assert value == pytest.approx(true, rel=0.015), mounting


@pytest.mark.parametrize(
    ("measure", "field"), [("free-airflow", "free_airflow"), ("maximum-pressure", "max_pressure")]
)
def test_the_ends_of_the_curve_hold_the_truth(sound: tuple[Lab, Truth], measure: str, field: str) -> None:
    lab, truth = sound
    for each in ranked(lab, measure).standings:
        assert each.value == pytest.approx(getattr(truth.fan(each.fan), field), rel=0.10)


def test_efficiency_is_physical(sound: tuple[Lab, Truth]) -> None:
    lab, _ = sound
    for each in ranked(lab, "static-efficiency").standings:
        assert 0.08 < each.value < 0.45


def test_a_fan_in_stall_is_a_range(sound: tuple[Lab, Truth]) -> None:
    lab, truth = sound
    found = ranked(lab, "airflow", "dense", 25.0)
    stalling = next(each for each in found.standings if each.fan == truth.stalling[0])
    points = truth.operating_point(truth.stalling[0], "dense", "1500 rpm").points
    assert stalling.bound.value == "range"
    assert "not unique" in stalling.marks
    assert stalling.low <= min(each.flow for each in points)
    assert stalling.high >= max(each.flow for each in points)


def test_the_json_is_as_documented(sound: tuple[Lab, Truth]) -> None:
    lab, _ = sound
    data = ranked(lab, "airflow", "rad27").as_dict()
    assert list(data) == ["schema", "measure", "definition", "version", "unit", "conditions", "margin",
                          "standings", "pairs", "best", "excluded", "bridges", "prices", "worth"]  # fmt: skip
    standing, pair = data["standings"][0], data["pairs"][0]
    assert {"fan", "value", "low", "high", "bound", "rank", "verdict", "how", "samples", "mountings", "marks",
            "key"} <= set(standing)  # fmt: skip
    assert {"a", "b", "difference", "low", "high", "verdict", "mountings_needed"} <= set(pair)
    assert len(data["pairs"]) == math.comb(len(data["standings"]), 2)


def test_a_fan_that_does_not_reach_the_speed_is_listed_with_the_reason(sound: tuple[Lab, Truth]) -> None:
    lab, _ = sound
    found = ranked(lab, "airflow", "rad27", 25.0)
    (gone,) = found.excluded
    assert gone.fan == "Sundew"
    assert "tested from" in gone.why


def test_what_can_not_be_asked_is_refused(sound: tuple[Lab, Truth]) -> None:
    lab, _ = sound
    with pytest.raises(NotPossible, match="--through with one of"):
        ranked(lab, "airflow")
    with pytest.raises(UnknownThing, match="rad99"):
        ranked(lab, "airflow", "rad99")
    with pytest.raises(NotPossible, match="no obstacle"):
        ranked(lab, "free-airflow", "rad27")
    with pytest.raises(UnknownThing, match="Heather"):
        ranked(lab, "free-airflow", only=("Heather",))


def test_another_size_is_excluded_in_words(sound: tuple[Lab, Truth]) -> None:
    lab, _ = sound
    found = ranked(lab, "free-airflow", size=0.14)
    assert not found.standings
    assert {each.why for each in found.excluded} == {"120 mm, not 140 mm"}


def test_one_changed_calibration_recomputes_what_hangs_on_it_and_back(sound: tuple[Lab, Truth]) -> None:
    lab, _ = sound
    before = ranked(lab, "airflow", "rad27").as_dict()
    graph = build_graph(open_book(lab))
    was = next(each for each in lab.current(Calibration).values() if each.instrument == "voltmeter")
    other = replace(was, gain=(was.gain or 1.0) * 1.001)
    lab.write([Note(other.kind, other.name, as_json(other))])
    moved = {each.subject for each in missing(lab, build_graph(open_book(lab)))}
    chamber = {each.subject for each in graph.mountings() if each.runs[0].placed.rig == "chamber"}
    assert moved == chamber  # the obstacles and the duct have no voltmeter
    nozzle = lab.current(Nozzle)["N12"]
    lab.write([Note(was.kind, was.name, as_json(was))])
    lab.write([Note(nozzle.kind, nozzle.name, as_json(replace(nozzle, bore=nozzle.bore * 1.001)))])
    hanging = {each.subject for each in missing(lab, build_graph(open_book(lab)))}
    opened = {
        each.subject
        for each in graph.curves
        if any("N12" in (run.placed.taken.nozzles or ()) for run in each.runs)
    }
    assert hanging == opened
    lab.write([Note(nozzle.kind, nozzle.name, as_json(nozzle))])
    assert missing(lab, build_graph(open_book(lab))) == []
    assert ranked(lab, "airflow", "rad27").as_dict() == before


def test_a_rebuilt_index_and_an_emptied_cache_give_the_same_numbers(sound: tuple[Lab, Truth]) -> None:
    lab, _ = sound
    before = ranked(lab, "airflow", "mesh", only=("Bracken", "Sedge")).as_dict()
    index.rebuild(lab.database)
    for file in (lab.path / "cache").rglob("*.npz"):
        file.unlink()
    reduce_lab(lab, build_graph(open_book(lab)), workers=2)
    assert ranked(lab, "airflow", "mesh", only=("Bracken", "Sedge")).as_dict() == before


def test_a_decision_leaves_a_run_out_and_lapses_when_its_key_moves(sound: tuple[Lab, Truth]) -> None:
    lab, _ = sound
    node = build_graph(open_book(lab)).mountings("Bracken")[0]
    run = node.runs[0]
    decision = Decision(finding="f0000000", rule="29", subject=f"run:{run.placed.run}", key=run.key,
                        action="exclude", reason="test", by="test", time="2026-01-01T00:00:00")  # fmt: skip
    lab.write([Note(decision.kind, decision.name, as_json(decision))])
    without = next(each for each in build_graph(open_book(lab)).curves if each.subject == node.subject)
    assert without.left_out == (run,)
    assert without.key != node.key
    assert without.judged == node.judged
    stale = replace(decision, key="0" * 24)
    lab.write([Note(stale.kind, stale.name, as_json(stale))])
    assert next(e for e in build_graph(open_book(lab)).curves if e.subject == node.subject).key == node.key
    lab.write([Note(WITHDRAWN, decision.name, {"kind": Decision.kind})])


def test_a_number_is_followed_back_to_its_bytes(sound: tuple[Lab, Truth]) -> None:
    lab, _ = sound
    key = ranked(lab, "airflow", "rad27").standings[0].key
    trace = follow(lab, key[:12])
    text = "\n".join(trace.lines)
    words = ("characteristic", "original originals/", "SHA-256", "lines 2 to 13", "certificate K-2025")
    more = ("nozzle N40: bore 40.01 mm", "resistance aQ + bQ²", "of the variance from", "degrees of freedom")
    for word in (*words, *more):
        assert word in text
    assert trace.data["from"][0]["from"][0]["from"][0]["original"]["sha256"]
    with pytest.raises(UnknownThing):
        follow(lab, "0123456789ab")
    with pytest.raises(BadInput, match="six digits"):
        follow(lab, "xyz")


def test_the_spread_is_agreed_once_and_dated(sound: tuple[Lab, Truth]) -> None:
    lab, _ = sound
    ranked(lab, "free-airflow")
    spread = lab.current(Spread)["free-airflow, full setting"]
    assert spread.mounting_dof > 4
    assert 0.001 < spread.mounting < 0.02
    ranked(lab, "free-airflow", only=("Bracken",))
    assert lab.current(Spread)["free-airflow, full setting"] == spread
