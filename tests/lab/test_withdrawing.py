"""A file that was added by mistake is taken back: out of use, not out of the journal, and it can come back."""

from __future__ import annotations

from pathlib import Path

import pytest

from stillroom.errors import BadInput, Contradiction, UnknownThing
from stillroom.lab.book import open_book, place_all
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.intake.withdrawing import withdraw
from stillroom.lab.recipes import build_graph
from stillroom.records.settings import template
from stillroom.store import folder, journal
from stillroom.store.lab import Lab
from stillroom.verbs.intake import add

HEAD = "Airflow [m³/h],Static pressure [Pa],Speed [rpm]\n"


def sweep(speed: int) -> str:
    shares = (0.0, 0.12, 0.25, 0.37, 0.5, 0.62, 0.75, 0.87, 0.99)
    return HEAD + "".join(
        f"{0.06 * speed * q:.2f},{8e-6 * speed**2 * (1 - 0.3 * q - 0.7 * q * q):.3f},{speed}\n"
        for q in shares
    )


@pytest.fixture
def path(tmp_path: Path) -> Path:
    folder.make(tmp_path / "lab", template("Back"))
    for name in ("m1/a.csv", "m1/b.csv", "m2/a.csv"):
        file = tmp_path / "e" / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(sweep(900 + 100 * len(list((tmp_path / "e").rglob("*")))), encoding="utf-8")
    with Lab(tmp_path / "lab") as lab:
        bring_in(lab, [tmp_path / "e"], {"fan": "Sedge"})
    return tmp_path / "lab"


def runs(lab: Lab) -> list[str]:
    return [each.placed.taken.file for node in build_graph(open_book(lab)).curves for each in node.runs]


def test_a_withdrawn_file_is_in_no_curve_and_comes_back_by_its_own_path(path: Path, tmp_path: Path) -> None:
    file = tmp_path / "e" / "m2" / "a.csv"
    with Lab(path) as lab:
        assert [each.file for each in withdraw(lab, [file], "the test piece of the workshop")] == [
            "e/m2/a.csv"
        ]
        assert runs(lab) == ["e/m1/a.csv", "e/m1/b.csv"]
        entry = journal.entries_of(lab.database, journal.WITHDRAWN)[-1]
        assert entry.body["reason"] == "the test piece of the workshop"
        assert (path / journal.originals_known(lab.database)[entry.name]).is_file()
        again = bring_in(lab, [tmp_path / "e"], {"fan": "Sedge"})
        assert again.left_out["e/m2/a.csv"].endswith(
            "the test piece of the workshop; added by its own path it comes back"
        )
        assert len(runs(lab)) == 2
        bring_in(lab, [file], {"fan": "Sedge"})
        assert len(runs(lab)) == 3
        journal.check(lab.database)


def test_a_file_is_named_by_its_end_or_by_a_run(path: Path) -> None:
    with Lab(path) as lab:
        with pytest.raises(Contradiction, match=r"e/m1/a\.csv.*e/m2/a\.csv"):
            withdraw(lab, [Path("a.csv")], "why")
        with pytest.raises(UnknownThing):
            withdraw(lab, [Path("c.csv")], "why")
        with pytest.raises(BadInput):
            withdraw(lab, [Path("b.csv")], " ")
        withdraw(lab, [Path("b.csv")], "why")
        first = next(each for each in place_all(open_book(lab)) if each.taken.file == "e/m1/a.csv")
        withdraw(lab, [Path(first.run)], "why")
        assert runs(lab) == ["e/m2/a.csv"]


def test_withdrawing_stands_alone_on_the_command_line(path: Path) -> None:
    said = add(Path("b.csv"), withdraw=True, reason="twice", lab=path)
    assert said.title == "Withdrew e/m1/b.csv: one run out of use."
    with pytest.raises(BadInput):
        add(Path("a.csv"), reason="twice", lab=path)
    with pytest.raises(BadInput):
        add(Path("a.csv"), withdraw=True, reason="twice", preview=True, lab=path)
