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


def test_a_ranking_by_airflow_says_why_it_has_none(lab: Path) -> None:
    found = rank("free-airflow", only=("Rush",), lab=lab)
    assert any("Rush: no run that can be used" in line for line in found.lines)
