"""The day's table of the reference fan: a rig that nobody named is called "the rig"."""

from __future__ import annotations

from stillroom.demo.truth import Truth
from stillroom.lab.book import open_book
from stillroom.lab.eras.reference import ControlChart
from stillroom.store.lab import Lab
from stillroom.verbs.day import _row


def check(rig: str) -> ControlChart:
    return ControlChart(
        rig, "Hobby s1", "free-airflow", "m³/s", 20.0, ("2026-03-02",), ("Hobby-s1-m1",), (1,), (0.02,),
        (None,), (None,), (None,), (None,), ((),), (),
    )  # fmt: skip


def test_a_rig_without_a_name_is_called_the_rig(sound: tuple[Lab, Truth]) -> None:
    book = open_book(sound[0])
    assert _row(book, check(""), "2026-03-02")[0] == "the rig"
    assert _row(book, check("chamber"), "2026-03-02")[0] == "chamber"
