"""The words of a trace: plain ones for sources, readers and settings."""

from __future__ import annotations

from pathlib import Path

import pytest

from stillroom.lab.book import open_book
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.lab.source_words import source_in_words
from stillroom.lab.tracing import follow
from stillroom.readers.reading.recording import READER_VERSION
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab


@pytest.mark.parametrize(
    ("identity", "words"),
    [
        ("instrument//flow/gain", "the accuracy of airflow on the bench, in proportion to the reading"),
        (
            "instrument/duct/static_pressure/offset",
            "the accuracy of static pressure on duct, the same at every reading",
        ),
        ("instrument/q-1/gain", "instrument q-1, in proportion to the reading"),
        ("instrument/q-1/linearity/0.01", "instrument q-1, of its range from 0.01 (SI) up"),
        ("instrument/unrecorded air/offset", "air that was not recorded, the same at every reading"),
        ("nozzle/N40/bore", "the bore of nozzle N40"),
        ("formula/nozzle coefficient", "the formula of the nozzle coefficient"),
        ("mounting/Sedge-s1-1", "how Sedge-s1-1 was mounted"),
        ("sample/s1", "sample s1 standing for all of its kind"),
        ("Sedge-s1-1/full speed", "Sedge-s1-1: full speed"),
        ("readings", "the scatter of the readings"),
    ],
)
def test_a_source_is_said_in_plain_words(identity: str, words: str) -> None:
    assert source_in_words(identity) == words


def test_an_obstacle_has_no_setting_and_one_table_no_number(tmp_path: Path) -> None:
    folder.make(tmp_path / "lab", template("Test").replace("# trials = 2000", "trials = 500"))
    with Lab(tmp_path / "lab") as lab:
        rows = "\n".join(f"{20 * q},{0.2 * q * q:.2f}" for q in range(1, 11))
        (tmp_path / "mesh.csv").write_text(f"Airflow [m³/h],Pressure drop [Pa]\n{rows}\n", encoding="utf-8")
        bring_in(lab, [tmp_path / "mesh.csv"], {"accuracy": "± 3 % of reading"})
        graph = build_graph(open_book(lab))
        reduce_lab(lab, graph, workers=1)
        (node,) = graph.curves
        text = "\n".join(follow(lab, node.key).lines)
    assert f"run {node.runs[0].placed.run}, 10 points" in text
    assert "untold" not in text
    assert "read by table" not in text
    assert f"read by version {READER_VERSION} of the table reader" in text
