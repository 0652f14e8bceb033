"""What is told of one column touches only files that have it; a preview shows what an add will do."""

from __future__ import annotations

from pathlib import Path

import pytest

from stillroom.lab.book import open_book, place_all
from stillroom.lab.intake.intake import bring_in
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab
from stillroom.verbs.intake import add

POINTS = ((0, 40.0), (20, 35.0), (40, 28.0), (60, 15.0), (80, 0.0))


def table(head: str, speed: int) -> str:
    return f"{head}\n" + "".join(f"{flow};{pressure:g};{speed}\n" for flow, pressure in POINTS)


BARE, OTHER = "Airflow;Static pressure [Pa];Speed [rpm]", "Volume flow;Static pressure [Pa];Speed [rpm]"


@pytest.fixture
def lab(tmp_path: Path) -> Lab:
    folder.make(tmp_path / "lab", template("Test"))
    return Lab(tmp_path / "lab")


@pytest.fixture
def exports(tmp_path: Path) -> Path:
    (tmp_path / "exports").mkdir()
    return tmp_path / "exports"


def put(exports: Path, name: str, text: str) -> Path:
    (exports / name).write_text(text, encoding="utf-8")
    return exports / name


def units(lab: Lab) -> dict[str, str]:
    taken = open_book(lab).taken.values()
    return {each.file.rpartition("/")[2]: each.layout["columns"][0]["unit"] for each in taken}


def test_a_unit_for_one_column_leaves_known_files_and_saved_layouts_alone(lab: Lab, exports: Path) -> None:
    put(exports, "nounits.csv", table(BARE, 1000))
    put(exports, "more.csv", table(BARE, 1010))
    said = {"fan": "Sedge", "unit:Airflow": "CFM"}
    bring_in(lab, [exports / "nounits.csv"], said)
    bring_in(lab, [exports / "more.csv"], said, save_layout="bare")
    put(exports, "later.csv", table(BARE, 1020))
    put(exports, "third.csv", table(OTHER, 1030))
    added = bring_in(lab, [exports], {"fan": "Sedge", "unit:Volume flow": "l/s"})
    assert added.bad == ()
    assert sorted(added.new) == ["exports/later.csv", "exports/third.csv"]
    assert added.by_layout == {"exports/later.csv": "bare"}
    assert units(lab) == {"nounits.csv": "CFM", "more.csv": "CFM", "later.csv": "CFM", "third.csv": "l/s"}


def test_a_unit_that_is_told_anew_moves_the_files_that_have_the_column(lab: Lab, exports: Path) -> None:
    head = "Airflow;Static pressure;Speed [rpm]"
    put(exports, "one.csv", table(head, 1000))
    put(exports, "two.csv", table(OTHER, 1010))
    told = {"fan": "Sedge", "unit:Airflow": "CFM", "unit:Static pressure": "Pa", "unit:Volume flow": "l/s"}
    bring_in(lab, [exports], told)
    added = bring_in(lab, [exports], {"fan": "Sedge", "unit:Airflow": "m³/h"})
    assert (added.bad, added.known) == ((), ("exports/two.csv",))
    assert units(lab) == {"one.csv": "m³/h", "two.csv": "l/s"}
    (one,) = (each for each in open_book(lab).taken.values() if each.file == "exports/one.csv")
    assert one.layout["columns"][1]["unit"] == "Pa"  # as it was told when it came in


def test_a_preview_of_a_known_file_shows_what_was_told_and_what_will_be(lab: Lab, exports: Path) -> None:
    path = put(exports, "nounits.csv", table(BARE, 1000))
    bring_in(lab, [path], {"fan": "Sedge", "sample": "2", "duty": "60", "unit:Airflow": "CFM"})
    shown = bring_in(lab, [path], {}, preview=True)
    assert shown.understood == {"nounits.csv": ("in the lab already, as it was understood before",)}
    assert shown.parts == {"nounits.csv": ("5 readings, 60%, up, fan Sedge, sample 2",)}
    moved = bring_in(lab, [path], {"duty": "80"}, preview=True)
    assert "80%" in moved.parts["nounits.csv"][0]
    assert "fan Sedge" in moved.parts["nounits.csv"][0]
    bring_in(lab, [path], {"duty": "80"})
    assert [(each.fan, each.setting_word) for each in place_all(open_book(lab))] == [("Sedge", "80%")]


def test_a_column_that_may_tell_the_setting_is_not_called_the_setting(lab: Lab, exports: Path) -> None:
    rows = table(f"{BARE.replace('Airflow', 'Airflow [m³/h]')};Spannung [V]", 1000)
    path = put(exports, "volts.csv", rows.replace(";1000\n", ";1000;12\n"))
    shown = bring_in(lab, [path], {"fan": "Sedge", "duty": "50"}, preview=True)
    assert "50%" in shown.parts["volts.csv"][0]
    (words,) = (each for each in shown.understood["volts.csv"] if "Spannung" in each and "setting" in each)
    assert words.startswith("may tell the setting: column")


def test_a_layout_written_from_a_known_file_is_said(lab: Lab, exports: Path, tmp_path: Path) -> None:
    path = put(exports, "nounits.csv", table(BARE, 1000))
    at, out = lab.path, tmp_path / "shared.toml"
    add(path, as_=("fan=Sedge", "unit:Airflow=CFM"), no_check=True, lab=at)
    said = add(path, save_layout=str(out), no_check=True, lab=at)
    assert out.is_file()
    assert said.title.startswith("Nothing changed in the lab")
    assert any("Wrote" in line and "shared.toml" in line for line in said.lines)
    assert said.data["shared"] == str(out)
