"""Lines of words that ask for a measure."""

from __future__ import annotations

import pytest

from stillroom.errors import BadInput, UnknownThing
from stillroom.lab.measure_words import asked_from, measure_alone, words_of
from stillroom.measures import MEASURES


@pytest.mark.parametrize(
    ("told", "same"),
    [
        ("Free airflow", "free-airflow"),
        ("maximum  PRESSURE at 1500 rpm", "maximum-pressure at 1500 rpm"),
        ("temperature rise at 35 dBA", "heat at 35 dBA"),
        ("Temperature rise at full speed", "heat"),
        ("Pressure at the operating point through rad27 at 40 %", "pressure-at through rad27 at 40 %"),
        ("load-line mean airflow, open third at 30 dBA", "load-line-open at 30 dBA"),
        ("Speed needed for an airflow through rad27 for 60 m³/h", "needed-speed through rad27 for 60 m³/h"),
        ("speed needed for a temperature rise for 12 K", "needed-speed for 12 K"),
        ("HEAT at 35 dBA", "heat at 35 dBA"),
    ],
)
def test_a_measure_is_told_by_its_title_in_any_capitals(told: str, same: str) -> None:
    assert asked_from(told) == asked_from(same)
    assert words_of(asked_from(told)) == same


def test_each_name_and_each_title_means_its_own_measure() -> None:
    for each in MEASURES:
        for told in (each.name, each.title, each.title.upper()):
            assert measure_alone(told) == each, told
    assert measure_alone("airflow through rad27") is None


@pytest.mark.parametrize(
    ("told", "near"),
    [
        ("maximal pressure through rad27", "maximum-pressure"),
        ("free air flow at 30 dBA", "free-airflow"),
        ("temperature rises at 35 dBA", "heat"),
    ],
)
def test_a_line_that_does_not_fit_is_refused_with_the_nearest_measure(told: str, near: str) -> None:
    with pytest.raises(BadInput, match=f"the nearest measure is {near}$"):
        asked_from(told)


def test_nothing_is_proposed_where_the_measure_is_right_or_none_is_near() -> None:
    for told in ("airflow at 35 furlongs", "zzz qqq at 35 dBA"):
        with pytest.raises(BadInput) as caught:
            asked_from(told)
        assert "nearest" not in str(caught.value)
    with pytest.raises(UnknownThing, match="expected airflow"):
        asked_from("airflw at 35 dBA")
