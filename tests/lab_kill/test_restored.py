"""A lab that was backed up and restored gives the same numbers under the same keys, to the last bit."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from stillroom.demo.write import write_exports
from stillroom.lab.book import open_book
from stillroom.lab.field import Asked
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.ranking import rank_fans
from stillroom.lab.recipes import build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.measures import Condition, measure_named
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.backup import backup, restore
from stillroom.store.lab import Lab

pytestmark = pytest.mark.slow


def ranked(path: Path) -> list[tuple[Any, ...]]:
    with Lab(path) as lab:
        book = open_book(lab)
        graph = build_graph(book)
        assert reduce_lab(lab, graph, workers=1).failed == {}
        asked = Asked(measure_named("airflow"), Condition(None, "rad27"))
        found = rank_fans(lab, book, graph, asked)
    return [
        (each.fan, each.value.hex(), each.low.hex(), each.high.hex(), each.rank, each.verdict, each.key)
        for each in found.standings
    ]


def test_a_restored_lab_ranks_the_same(tmp_path: Path) -> None:
    write_exports(tmp_path / "raw", faults=False)
    folder.make(tmp_path / "lab", template("Heather Lab"))
    with Lab(tmp_path / "lab") as lab:
        bring_in(lab, [tmp_path / "raw"], {})
    before = ranked(tmp_path / "lab")
    assert len(before) >= 4
    with Lab(tmp_path / "lab") as lab:
        backup(lab, tmp_path / "lab.zip")
    restore(tmp_path / "lab.zip", tmp_path / "again")
    assert ranked(tmp_path / "again") == before
