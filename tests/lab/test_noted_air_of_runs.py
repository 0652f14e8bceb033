"""Air told above a table is the run's air; a note that isn't used is marked."""

from __future__ import annotations

from pathlib import Path

from stillroom.lab.book import open_book
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.records.settings import template
from stillroom.store import folder, results
from stillroom.store.lab import Lab

TABLE = "Airflow [m³/h],Pressure drop [Pa]\n" + "".join(f"{20 * q},{0.2 * q * q:.2f}\n" for q in range(1, 11))
AIR = "Barometer: 1009.3 hPa\nTemperature: 21.5 °C\nRH: 45 %\n\n"


def marks(path: Path, notes: str) -> tuple[tuple[str, ...], list[str]]:
    """What `add` says, and the marks of the run's points."""
    folder.make(path / "lab", template("Test").replace("# trials = 2000", "trials = 500"))
    with Lab(path / "lab") as lab:
        (path / "mesh.csv").write_text(notes + TABLE, encoding="utf-8")
        added = bring_in(lab, [path / "mesh.csv"], {"accuracy": "± 3 % of reading"})
        graph = build_graph(open_book(lab))
        reduce_lab(lab, graph, workers=1)
        found = results.get(lab.database, graph.curves[0].key)
        assert found is not None
        (run,) = found.body["runs"]
    return added.marks, run["marks"]


def test_air_in_notes_is_recorded_air(tmp_path: Path) -> None:
    said, of_run = marks(tmp_path, AIR)
    assert "air not recorded" not in of_run
    assert not any("not used" in each for each in said)


def test_air_without_a_unit_is_not_used_and_it_is_said(tmp_path: Path) -> None:
    said, of_run = marks(tmp_path, AIR.replace(" hPa", "").replace(" °C", ""))
    assert "air not recorded" in of_run
    assert sum("is not used as the air of the run: it states no unit" in each for each in said) == 2
