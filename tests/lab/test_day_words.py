"""The day's table of the reference fan: a rig that nobody named is called "the rig"."""

from __future__ import annotations

from stillroom.demo.truth import Truth
from stillroom.lab.book import open_book
from stillroom.lab.eras.control_charts import ControlChart
from stillroom.records.acts import Spread
from stillroom.store.lab import Lab
from stillroom.verbs.day import _row, _spread_words


def check(rig: str) -> ControlChart:
    return ControlChart(
        rig, "Hobby s1", "free-airflow", "m³/s", 20.0, ("2026-03-02",), ("Hobby-s1-m1",), (1,), (0.02,),
        (None,), (None,), (None,), (None,), ((),), (),
    )  # fmt: skip


def test_a_rig_without_a_name_is_called_the_rig(sound: tuple[Lab, Truth]) -> None:
    book = open_book(sound[0])
    assert _row(book, check(""), "2026-03-02")[0] == "the rig"
    assert _row(book, check("chamber"), "2026-03-02")[0] == "chamber"


def test_the_spread_of_levels_is_told_in_decibels_that_of_airflow_in_per_cent() -> None:
    told = {
        "date": "2026-03-02",
        "mounting": 0.4,
        "mounting_dof": 4.0,
        "sample": 0.7,
        "sample_dof": 4.0,
        "fans": 2,
    }
    level = _spread_words(Spread(measure="level, given speed", **told))  # type: ignore[arg-type]
    assert level.endswith("mountings 0.40 dB, samples 0.70 dB")
    flow = _spread_words(Spread(measure="airflow, full setting", **told))  # type: ignore[arg-type]
    assert flow.endswith("mountings 40.00%, samples 70.00%")
