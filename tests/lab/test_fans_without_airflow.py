"""A fan of which only the bench for control knows anything, and no table: it is asked for and ranked like any other."""

from __future__ import annotations

from pathlib import Path

import pytest

from stillroom.lab.intake.intake import bring_in
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab
from stillroom.verbs.answers import rank
from stillroom.verbs.asking import ask

STEPS = (
    "PWM %;rpm\n100;1998\n80;1700\n60;1370\n30;770\n20;520\n10;0\n20;0\n30;768\n60;1368\n80;1702\n100;1999\n"
)


@pytest.fixture
def lab(tmp_path: Path) -> Path:
    (tmp_path / "steps.csv").write_text(STEPS, encoding="utf-8")
    folder.make(tmp_path / "lab", template("Made"))
    with Lab(tmp_path / "lab") as lab:
        bring_in(lab, [tmp_path / "steps.csv"], {"fan": "Rush", "sample": "1"})
    return tmp_path / "lab"


def test_its_control_is_the_answer(lab: Path) -> None:
    found = ask("rush", lab=lab)
    assert found.title.startswith("Rush starts between 20 % and 30 % duty")


def test_what_is_known_stands_first_and_what_is_not_in_one_line(lab: Path) -> None:
    found = ask("rush", lab=lab)
    ((title, table),) = found.tables
    assert title.startswith("Control")
    assert next(row[1] for row in table.rows if row[0] == "Start duty") == "20 to 30"
    (line,) = (line for line in found.lines if line.startswith("Unknown: "))
    assert line.startswith("Unknown: free airflow, speed at free delivery, ")
    assert line.endswith("load-line mean airflow: no airflow measured that can be used")
    start = next(each for each in found.data["control"]["numbers"] if each["measure"] == "start-duty")
    assert start["ends"] == pytest.approx([20.0, 30.0])


def test_a_ranking_tells_both_ends_of_a_range_inside_its_interval(lab: Path) -> None:
    found = rank("start-duty", lab=lab)
    ((_, table),) = found.tables
    assert table.rows[0][2] == "20 to 30"
    low, high = (float(each) for each in table.rows[0][3].split(" to "))
    assert low < 20
    assert high > 30
    assert any(line.startswith("A range shows both its ends") for line in found.lines)
    assert found.data["standings"][0]["ends"] == pytest.approx([20.0, 30.0])


def test_a_ranking_by_airflow_says_why_it_has_none(lab: Path) -> None:
    found = rank("free-airflow", only=("Rush",), lab=lab)
    assert any("Rush: no run that can be used" in line for line in found.lines)
