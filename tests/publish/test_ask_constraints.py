"""Readers' questions put to the demo lab, each answer held against the ranking that it comes from."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from lab_copies import copied

from stillroom.errors import BadInput, UnknownThing
from stillroom.verbs import add, ask, rank
from stillroom.verbs.conditions import Conditions
from stillroom.verbs.said import Said

QUIET = Conditions(noise=("30 dBA",))


def fans(said: Said) -> Mapping[str, dict[str, Any]]:
    return {each["fan"]: each for each in said.data["fans"]}


def test_at_least_an_airflow_at_or_under_a_level_for_a_price(published_lab: Path) -> None:
    said = ask(through="rad27", at_least="50 m³/h", at_most="30 dBA", under_price=20.0, lab=published_lab)
    ranked = rank("airflow", through="rad27", conditions=QUIET, lab=published_lab).data
    prices = {each["fan"]: each["price"] for each in ranked["prices"]["fans"]}
    for each in ranked["standings"]:
        told = fans(said)[each["fan"]]
        assert (told["value"], told["low"], told["high"]) == (each["value"], each["low"], each["high"])
        assert told["how"] == each["how"]
        beyond = each["high"] < 50.0 or prices[each["fan"]] > 20.0
        expected = "no" if beyond else "yes" if each["low"] >= 50.0 else "perhaps"
        assert told["meets"] == expected, each["fan"]
    assert said.title.startswith("Airflow through rad27 at 30 dBA at least 50")


def test_the_best_for_a_price_is_that_of_the_fans_within_it(published_lab: Path) -> None:
    said = ask(through="rad27", conditions=QUIET, under_price=20.0, lab=published_lab)
    within = tuple(each["fan"] for each in said.data["fans"] if each["meets"] == "yes")
    assert all(fans(said)[each]["price"] <= 20.0 for each in within)
    best = rank("airflow", through="rad27", conditions=QUIET, only=within, lab=published_lab).title
    assert said.title.endswith(best)


def test_three_side_by_side_before_three_tiles_are_modelled_and_move_three_times_as_much(
    published_lab: Path,
) -> None:
    """N equal fans on N tiles of an obstacle: each sees its own tile, so that flows add (parallel flow paths)."""
    one = fans(ask(through="rad27", measure="airflow", lab=published_lab))
    three = fans(
        ask(through="rad27", conditions=Conditions(beside=3, tiles=3.0), measure="airflow", lab=published_lab)
    )
    for fan, told in three.items():
        assert told["value"] == pytest.approx(3.0 * one[fan]["value"], rel=1e-9)
        assert told["how"] == "modelled"


def test_quieter_than_another_is_the_pair_of_the_ranking(published_lab: Path) -> None:
    said = ask(measure="level", through="rad27", against="sedge", lab=published_lab)
    ranked = rank("level", through="rad27", lab=published_lab).data
    pairs = {(each["a"], each["b"]): each for each in ranked["pairs"]}
    for fan, told in fans(said).items():
        if fan == "Sedge":
            assert told["against"] is None
            continue
        pair, sign = (pairs[fan, "Sedge"], 1.0) if (fan, "Sedge") in pairs else (pairs["Sedge", fan], -1.0)
        assert told["against"]["difference"] == pytest.approx(sign * pair["difference"])
    assert "louder than Sedge" in said.title or "too close to call against Sedge" in said.title.lower()


def test_one_fan_against_a_legacy_number_of_years_ago(published_lab: Path, tmp_path: Path) -> None:
    lab = copied(published_lab, tmp_path / "lab")
    (lab / "legacy.csv").write_text(
        "fan,measure,value,unit,low,high,obstacle,date\nOldfan,airflow,40,m³/h,36,44,rad27,2024-05-01\n",
        "utf-8",
    )
    add(lab / "legacy.csv", lab=lab)
    said = ask("Bilberry", through="rad27", against="Oldfan", lab=lab)
    (told,) = said.data["fans"]
    assert told["fan"] == "Bilberry"
    assert told["against"]["difference"] == pytest.approx(told["value"] - 40.0)
    assert told["against"]["low"] < told["against"]["difference"] < told["against"]["high"]
    assert "Bilberry" in said.title


def test_starts_at_or_under_a_duty(published_lab: Path) -> None:
    said = ask(measure="start-duty", at_most="20 %", lab=published_lab)
    for told in said.data["fans"]:
        if told["value"] is None:
            assert told["meets"] == "unknown"
            assert told["why"]
        else:
            assert told["meets"] == ("yes" if (told["high"] or 1e9) <= 20.0 + 1e-6 else "perhaps")


def test_what_is_not_known_is_said_with_what_would_answer_it(published_lab: Path) -> None:
    said = ask(measure="clicking", lab=published_lab)
    assert said.title.startswith("Clicking: unknown.")
    assert said.code == 0
    assert said.lines[0].startswith("Needed: ")
    assert "25 mm is as printed" in ask("Bilberry", measure="thickness", lab=published_lab).title


def test_a_level_s_airflow_sets_the_speed(published_lab: Path) -> None:
    said = ask(measure="level", through="rad27", at_most="35 dBA", at_least="40 m³/h", lab=published_lab)
    ranked = rank("level", through="rad27", conditions=Conditions(for_flow="40 m³/h"), lab=published_lab).data
    assert {each["fan"] for each in ranked["standings"]} == {
        each["fan"] for each in said.data["fans"] if each["value"] is not None
    }


@pytest.mark.parametrize(
    ("told", "match"),
    [
        ({"at_least": "3 Pa", "through": "rad27"}, "--at-least"),
        ({"at_least": "many", "through": "rad27"}, "--at-least"),
        ({"under_price": -1.0, "through": "rad27"}, "--under-price"),
        ({}, "no fan and nothing wanted"),
    ],
)
def test_what_can_t_be_meant_is_refused(published_lab: Path, told: dict[str, Any], match: str) -> None:
    with pytest.raises(BadInput, match=match):
        ask(lab=published_lab, **told)


def test_a_fan_or_a_measure_that_there_isn_t_is_named(published_lab: Path) -> None:
    with pytest.raises(UnknownThing, match="Nobody"):
        ask(through="rad27", against="Nobody", lab=published_lab)
    with pytest.raises(UnknownThing, match="colour"):
        ask(measure="colour", lab=published_lab)
