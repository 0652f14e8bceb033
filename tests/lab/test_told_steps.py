"""Steps that are told wrongly: refused where nobody can mean them, else said beside the number."""

from __future__ import annotations

from pathlib import Path

import pytest
from heat_bench import TWO, HeatBench, channels, reduced

from stillroom.errors import StillroomError
from stillroom.lab.curves import result_of
from stillroom.lab.heat.loading import load_heat
from stillroom.lab.intake.intake import bring_in
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

HEAD = "mounting,step,from,to,duty [%],noise [dBA]\n"


def marks_with(base: Path, rows: str) -> str:
    """All marks of a run of 27 min at 100 % and 27 min at 60 %, with rows of steps."""
    bench = HeatBench(base)
    bench.log("a.csv", channels(TWO), "2026-03-03T09:00:00", mounting="m1", fan="Moss", sample="s1")
    bench.finish(tables={"steps.csv": HEAD + rows})
    with bench.lab() as lab:
        (node,) = reduced(lab).heats
        return "; ".join(load_heat(lab.path, result_of(lab, node)).marks)


@pytest.mark.parametrize(
    ("rows", "mark"),
    [
        ("m1,1,200,300,100,35\n", "no readings where these steps are told: 1"),
        ("m1,1,0,26,60,35\nm1,2,27,53,60,30\n", "step 1 is told at duty 60 %, its record shows 100 %"),
        ("m1,1,0,26,100,35\nm1,2,16,53,60,30\n", "steps 1 and 2 are told to overlap by 10 min"),
    ],
)
def test_what_the_record_says_otherwise_is_said(tmp_path: Path, rows: str, mark: str) -> None:
    assert mark in marks_with(tmp_path, rows)


def test_of_steps_told_rightly_nothing_is_said(tmp_path: Path) -> None:
    words = marks_with(tmp_path, "m1,1,0,26.5,100,35\nm1,2,26.5,53,60,30\n")
    assert "step" not in words


@pytest.mark.parametrize(
    ("row", "part"),
    [
        ("m1,1,09:26,09:00,100,35", "an end after the start"),
        ("m1,1,2026-03-03 09:00,2026-03-02 09:30,100,35", "an end after the start"),
        ("m1,1,09:00,26,100,35", "two clock times"),
        ("m1,1,,26,100,35", "also where it begins"),
        ("m1,1,2026-02-30 09:00,2026-02-30 09:26,100,35", "a clock time"),
        (",1,0,20,100,35", "its session or mounting"),
        ("m1,1,0,20,100,900", "0 to 120 dBA"),
        ("m1,1,0,20,100,-35", "0 to 120 dBA"),
    ],
)
def test_what_nobody_can_mean_is_refused(tmp_path: Path, row: str, part: str) -> None:
    table = tmp_path / "steps.csv"
    table.write_text(HEAD + row + "\n")
    folder.make(tmp_path / "lab", template("Heat"))
    with Lab(tmp_path / "lab") as lab, pytest.raises(StillroomError, match=part):
        bring_in(lab, [table], {})


@pytest.mark.parametrize("row", ["m1,1,23:50,00:20,100,35", "m1,1,2026-03-03 23:50,2026-03-04 00:20,100,35"])
def test_a_step_past_midnight_is_taken(tmp_path: Path, row: str) -> None:
    table = tmp_path / "steps.csv"
    table.write_text(HEAD + row + "\n")
    folder.make(tmp_path / "lab", template("Heat"))
    with Lab(tmp_path / "lab") as lab:
        assert not bring_in(lab, [table], {}).bad


@pytest.mark.parametrize("name", ['"Mo\nss"', "Mo\x1bss", "\u202essoM", "Mo\x85ss"])
def test_a_fan_named_by_signs_that_do_not_show_is_refused(tmp_path: Path, name: str) -> None:
    table = tmp_path / "mountings.csv"
    table.write_text(f"mounting,fan,sample,rig\nm1,{name},s1,heat-1\n", encoding="utf-8")
    folder.make(tmp_path / "lab", template("Heat"))
    with Lab(tmp_path / "lab") as lab, pytest.raises(StillroomError):
        bring_in(lab, [table], {})


@pytest.mark.parametrize("name", ["Moss", "Mo\u00a0ss 12", "Möß/2", "苔"])
def test_a_fan_named_by_any_letters_is_taken(tmp_path: Path, name: str) -> None:
    table = tmp_path / "mountings.csv"
    table.write_text(f"mounting,fan,sample,rig\nm1,{name},s1,heat-1\n", encoding="utf-8")
    folder.make(tmp_path / "lab", template("Heat"))
    with Lab(tmp_path / "lab") as lab:
        assert not bring_in(lab, [table], {}).bad
