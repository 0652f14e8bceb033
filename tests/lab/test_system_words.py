"""A condition in words: titles and names of files tell all of it, and what was stated is said as it was stated."""

from __future__ import annotations

import itertools

import pytest

from stillroom.core.systems import System
from stillroom.lab.pictures.condition_words import around, file_parts, of_each, subject, through_phrase
from stillroom.lab.pictures.picture_words import LONGEST, plain_name
from stillroom.lab.system_words import Plain, conditions_line, system_told
from stillroom.measures import system_marks
from stillroom.verbs import Conditions


def told(speed: str = "full setting", **system: object) -> dict[str, Plain]:
    around_it = system_told(System(**system))  # type: ignore[arg-type]
    return {"speed": speed, "obstacle": "rad27", **{name: each for name, each in around_it.items() if each}}


def test_what_was_stated_is_shown_as_stated() -> None:
    system = Conditions(push_pull="0.85 ± 0.05", tiles=3.0).through("rad27").system
    line = conditions_line({"speed": "full setting", **system_told(system)})
    assert line == "Conditions: speed full setting, tiles 3, push–pull factor 0.85 ± 0.05"
    assert "push–pull factor 0.85 ± 0.05 stated" in system_marks(system)
    assert system_told(System(tiles=2.5))["tiles"] == 2.5


@pytest.mark.parametrize(
    ("system", "words", "where"),
    [
        ({}, "Hobby", "through rad27"),
        ({"push_pull": 0.85}, "two Hobby in push–pull (factor 0.85)", "through rad27"),
        ({"beside": 3, "tiles": 3.0}, "three Hobby side by side", "through three tiles of rad27"),
        ({"beside": 2, "push_pull": 0.9}, "two pairs of Hobby in push–pull (factor 0.9) side by side",
         "through rad27"),
    ],
)  # fmt: skip
def test_of_whom_and_through_what(system: dict[str, object], words: str, where: str) -> None:
    assert subject("Hobby", told(**system))[0] == words
    assert subject("Hobby", told(**system))[1] == (words != "Hobby")
    assert through_phrase(told(**system)) == where


def test_around_a_comparison() -> None:
    assert around(told()) == ""
    high = told(beside=3, altitude=1600.0, temperature=303.15)
    assert around(high) == ", three of each side by side, at 1600 m and 30 °C"
    assert of_each(told(tiles=2.0, temperature=298.65)) == ", on two tiles of each, at 25.5 °C"


def test_every_condition_has_a_file_of_its_own() -> None:
    values: list[dict[str, object]] = [
        {"beside": 2}, {"beside": 3}, {"tiles": 2.0}, {"tiles": 2.5}, {"push_pull": 0.85},
        {"push_pull": 0.85, "push_pull_u": 0.02}, {"altitude": 1600.0}, {"temperature": 303.15},
    ]  # fmt: skip
    cases = [{}, *values, *({**a, **b} for a, b in itertools.combinations(values, 2) if a.keys() != b.keys())]
    shown = [told(speed, **each) for speed in ("full setting", "40 % duty", "7 V") for each in cases]
    different = {tuple(sorted((name, str(value)) for name, value in each.items())) for each in shown}
    assert len({plain_name("airflow", "rad27", *file_parts(each)) for each in shown}) == len(different)
    assert plain_name("airflow", *file_parts(told())) == "airflow"


def test_a_name_cut_short_still_tells_apart() -> None:
    long = "through " + "mesh " * 40
    one, other = plain_name(long, "7 V"), plain_name(long, "8 V")
    assert one != other
    assert len(one) == len(other) == LONGEST
