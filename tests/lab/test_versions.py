"""Which version of an obstacle a bare name means: by date, by arrival, by number, or none, and it is asked."""

from __future__ import annotations

from pathlib import Path

import pytest

from stillroom.errors import BadInput, UnknownThing
from stillroom.lab.book import open_book
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import build_graph
from stillroom.lab.through import through_of
from stillroom.lab.versions import last_versions, latest
from stillroom.records.bench import Obstacle
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

ONE, TWO = "2026-05-01T10:00:00+00:00", "2026-05-02T10:00:00+00:00"


def dated(version: str, date: str | None) -> dict[str, Obstacle]:
    made = Obstacle(obstacle="rad", version=version, date=date)
    return {made.name: made}


def test_the_latest_is_by_date_then_by_arrival_then_by_number() -> None:
    assert latest({"rad@1": TWO, "rad@2": ONE}, {}, "rad") == "rad@1"
    newer = dated("2", "2026-04-02") | dated("1", "2026-04-01")
    assert latest({"rad@1": TWO, "rad@2": ONE}, newer, "rad") == "rad@2"
    assert latest({"rad@10": ONE, "rad@9": ONE}, {}, "rad") == "rad@10"
    assert latest({"rad@1": ONE}, {}, "rad@2") == ""
    assert latest({"rad": ONE, "rad@2": TWO}, {}, "rad") == "rad"


def test_none_is_the_latest_where_nothing_tells_it() -> None:
    assert latest({"rad@old": ONE, "rad@new": ONE}, {}, "rad") == ""
    assert last_versions({"rad@old": ONE, "rad@new": ONE}, {}, "rad") == ["rad@old", "rad@new"]
    same = dated("a", "2026-04-01") | dated("b", "2026-04-01")
    assert last_versions({"rad@a": ONE, "rad@b": ONE, "grille": TWO}, same, "rad") == ["rad@a", "rad@b"]


def in_files(tmp_path: Path, *names: str) -> Lab:
    folder.make(tmp_path / "lab", template("Test"))
    lab, exports = Lab(tmp_path / "lab"), tmp_path / "exports"
    exports.mkdir()
    for at, name in enumerate(names, start=1):
        rows = "\n".join(f"{20 * q},{at * 0.1 * q * q:.2f}" for q in range(1, 9))
        (exports / f"{name}.csv").write_text(f"Airflow [m³/h],Pressure drop [Pa]\n{rows}\n", encoding="utf-8")
    bring_in(lab, [exports], {"accuracy": "± 3 % of reading"})
    return lab


def test_versions_that_came_as_files_are_found_by_the_bare_name(tmp_path: Path) -> None:
    book = open_book(in_files(tmp_path, "rad27@1", "rad27@2", "mesh"))
    graph = build_graph(book)
    assert through_of(book, graph, "rad27").words == "rad27@2"
    assert through_of(book, graph, "rad27@1").words == "rad27@1"
    assert through_of(book, graph, "rad27+mesh").words == "rad27@2 + mesh"
    with pytest.raises(UnknownThing, match="mesh, rad27"):
        through_of(book, graph, "rad28")


def test_words_for_versions_that_came_at_once_have_to_be_named(tmp_path: Path) -> None:
    book = open_book(in_files(tmp_path, "rad27@old", "rad27@new"))
    with pytest.raises(BadInput) as caught:
        through_of(book, build_graph(book), "rad27")
    assert caught.value.thing == "obstacle rad27"
    assert "versions new and old" in caught.value.found
    assert "rad27@new or rad27@old" in caught.value.expected
