"""An instrument that is exchanged on a rig changes the runs from then on, and none before."""

from __future__ import annotations

from pathlib import Path

import pytest

from stillroom.errors import Contradiction
from stillroom.lab.book import open_book
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import build_graph
from stillroom.readers.registers.rigs import read_rigs
from stillroom.readers.source import Source
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

RIG = """[rig.duct]
accuracy = "± 3 % of reading"
{since}speed = "{tacho}"
"""
TACHOS = """
[instrument.t1]
quantity = "speed"
accuracy = "± 1 % of reading"
[instrument.t2]
quantity = "speed"
accuracy = "± 0.1 % of reading"
"""


def export(day: str) -> str:
    shares = (0.0, 0.12, 0.25, 0.37, 0.5, 0.62, 0.75, 0.87, 0.99)
    rows = (f"{90 * q:.2f},{18 * (1 - 0.3 * q - 0.7 * q * q):.3f},1500\n" for q in shares)
    return f"Date: {day}\n\nAirflow [m³/h],Static pressure [Pa],Speed [rpm]\n" + "".join(rows)


@pytest.fixture
def lab(tmp_path: Path) -> Lab:
    folder.make(tmp_path / "lab", template("Rigs"))
    told(tmp_path, RIG.format(since="", tacho="t1") + TACHOS)
    for day in ("2026-03-02", "2026-03-09"):
        (tmp_path / f"{day}.csv").write_text(export(day), encoding="utf-8")
    lab = Lab(tmp_path / "lab")
    bring_in(lab, [tmp_path / "rigs.toml"], {})
    bring_in(lab, sorted(tmp_path.glob("*.csv")), {"fan": "Sedge"})
    return lab


def told(folder_of: Path, words: str) -> Path:
    (folder_of / "rigs.toml").write_text(words, encoding="utf-8")
    return folder_of / "rigs.toml"


def used(lab: Lab) -> dict[str, tuple[str, str]]:
    """{day: (key of the run, instrument of its speed)}."""
    nodes = build_graph(open_book(lab)).curves
    return {
        each.placed.date: (each.key, each.calibrations["speed"].split()[0])
        for node in nodes
        for each in node.runs
    }


def test_another_instrument_without_a_date_is_refused_once_there_are_runs(lab: Lab, tmp_path: Path) -> None:
    with pytest.raises(Contradiction, match=r"speed: t1 to t2.*two runs.*since = DATE"):
        bring_in(lab, [told(tmp_path, RIG.format(since="", tacho="t2"))], {})
    assert {each[1] for each in used(lab).values()} == {"t1"}


def test_earlier_runs_keep_the_instrument_of_their_day(lab: Lab, tmp_path: Path) -> None:
    before = used(lab)
    bring_in(lab, [told(tmp_path, RIG.format(since="since = 2026-03-05\n", tacho="t2"))], {})
    after = used(lab)
    assert after["2026-03-02"] == before["2026-03-02"]
    assert after["2026-03-09"][1] == "t2"
    assert after["2026-03-09"][0] != before["2026-03-09"][0]


def test_a_record_that_is_put_right_holds_for_all_runs(lab: Lab, tmp_path: Path) -> None:
    bring_in(lab, [told(tmp_path, RIG.format(since='since = "always"\n', tacho="t2"))], {})
    assert {each[1] for each in used(lab).values()} == {"t2"}


def test_a_file_may_hold_a_rig_as_it_stood_from_several_days_on() -> None:
    two = "".join(
        RIG.format(since=since, tacho=tacho).replace("[rig.duct]", "[[rig.duct]]")
        for since, tacho in (("", "t1"), ("since = 2026-03-05\n", "t2"))
    )
    entries = read_rigs(Source("rigs.toml", two.encode()))
    assert [each.fields.get("since") for each in entries] == [None, "2026-03-05"]
    with pytest.raises(Contradiction, match="2026-03-05 twice"):
        read_rigs(
            Source(
                "rigs.toml", two.replace("[[rig.duct]]\na", "[[rig.duct]]\nsince = 2026-03-05\na", 1).encode()
            )
        )
