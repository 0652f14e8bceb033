"""Tables that come later: steps that wait for a run, cuts that they move, and cells that a row empties."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from heat_bench import TWO, HeatBench, channels

from stillroom.errors import Contradiction
from stillroom.lab.intake.intake import bring_in
from stillroom.records.acts import Step
from stillroom.records.products import Sample
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab
from stillroom.verbs.intake import add

MOUNTING = "mounting,step,from,to,duty [%]\n"


@pytest.fixture
def table(tmp_path: Path) -> Path:
    """A lab with a heat run of 53 min whose drive goes from 100 % to 60 % half-way; where a table is to be written."""
    bench = HeatBench(tmp_path)
    bench.log(
        "a.csv", channels(TWO), "2026-03-03T09:00:00", mounting="m1", fan="Moss", sample="s1", session="one"
    )
    bench.finish()
    with bench.lab():
        pass
    return tmp_path / "steps.csv"


def said(path: Path, text: str) -> list[str]:
    """The lines that `add` says of a table."""
    path.write_text(text, encoding="utf-8")
    return list(add(path, lab=path.parent / "lab").lines)


@pytest.mark.parametrize(
    ("text", "whose"),
    [
        (MOUNTING + "m7,1,0,26,100\nm7,2,27,53,60\n", "two steps of mounting m7"),
        ("session,step,from,to\ntwo,1,0,26\n", "one step of session two"),
        ("fan,sample,step,from,to\nFern,s1,1,0,26\n", "one step of fan Fern/s1"),
    ],
)
def test_steps_of_no_run_wait_and_it_is_said(table: Path, text: str, whose: str) -> None:
    (line,) = [each for each in said(table, text) if "no heat run of it yet" in each]
    assert whose in line
    assert {"mounting": "m1", "session": "one", "fan": "Moss"}[whose.split()[3]] in line


def test_steps_that_move_cuts_show_them_before_and_after(table: Path) -> None:
    lines = said(table, MOUNTING + "m1,1,0,20,100\nm1,2,30,53,60\n")
    (line,) = [each for each in lines if "cuts of" in each]
    before, now = line.split("; now ")
    assert "at 100% (record of the drive)" in before
    assert "0.0 to 20.0 min at 100% (told), 30.0 to 53.0 min at 60% (told)" in now
    assert not any("no heat run" in each for each in lines)
    assert not any("cuts of" in each for each in said(table, MOUNTING + "m1,1,0,20,100\nm1,2,30,53,60\n"))


@pytest.fixture
def lab(tmp_path: Path) -> Iterator[Lab]:
    """A lab with a sample of which everything is told."""
    folder.make(tmp_path / "lab", template("Heat"))
    path = tmp_path / "samples.csv"
    path.write_text("fan,sample,bought,shop,lot\nMoss,s1,2026-01-02,Corner,L7\n", encoding="utf-8")
    with Lab(tmp_path / "lab") as opened:
        bring_in(opened, [path], {})
        yield opened


def test_steps_without_a_rig_are_steps_and_leave_the_sample_alone(lab: Lab, tmp_path: Path) -> None:
    path = tmp_path / "steps.csv"
    path.write_text(
        "fan,sample,step,from,to,duty [%]\nMoss,s1,1,0,20,100\nMoss,s1,2,20,40,60\n", encoding="utf-8"
    )
    added = bring_in(lab, [path], {})
    assert (added.records, added.bad) == ({"step": 2}, ())
    assert sorted(lab.current(Step)) == ["Moss/s1/1", "Moss/s1/2"]
    assert lab.current(Sample)["Moss/s1"].lot == "L7"


def test_planned_steps_of_nothing_are_refused_and_not_taken_for_samples(lab: Lab, tmp_path: Path) -> None:
    path = tmp_path / "steps.csv"
    path.write_text("fan,sample,step,duty [%],note\nMoss,s1,1,100,full\n", encoding="utf-8")
    with pytest.raises(Contradiction, match="more of a table of kind step"):
        bring_in(lab, [path], {})
    assert lab.current(Sample)["Moss/s1"].lot == "L7"


@pytest.mark.parametrize("preview", [False, True])
def test_a_later_table_says_what_it_empties(lab: Lab, tmp_path: Path, preview: bool) -> None:
    path = tmp_path / "more.csv"
    path.write_text("fan,sample,bought\nMoss,s1,2026-01-03\nFern,s1,2026-01-03\n", encoding="utf-8")
    (mark,) = bring_in(lab, [path], {}, preview=preview).marks
    assert "more.csv: shop and lot of sample Moss/s1 told before" in mark
    assert (lab.current(Sample)["Moss/s1"].lot is None) is not preview


def test_a_table_that_tells_as_much_says_nothing(lab: Lab, tmp_path: Path) -> None:
    path = tmp_path / "more.csv"
    path.write_text(
        "fan,sample,bought,shop,lot,hours [h]\nMoss,s1,2026-01-03,Corner,L8,3\n", encoding="utf-8"
    )
    assert bring_in(lab, [path], {}).marks == ()
