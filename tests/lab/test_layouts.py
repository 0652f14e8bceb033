"""Ways of reading: saved whole, used strictly, shared as a file, proposed again for files of one shape."""

from __future__ import annotations

from pathlib import Path

import pytest

from stillroom.errors import BadInput, StillroomError, UnknownThing
from stillroom.lab.book import open_book
from stillroom.lab.intake.intake import bring_in
from stillroom.records.acts import SavedLayout
from stillroom.records.fields import as_json
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.journal import Note
from stillroom.store.lab import Lab

BARE = "Airflow,Static pressure [Pa],Speed [rpm]\n" + "\n".join(
    f"{10 * i},{30 - 0.3 * i * i:.2f},1500" for i in range(9)
)


def lab_at(path: Path) -> Lab:
    folder.make(path, template("Test"))
    return Lab(path)


@pytest.fixture
def lab(tmp_path: Path) -> Lab:
    return lab_at(tmp_path / "lab")


def export(tmp_path: Path, name: str, speed: int, text: str = BARE) -> Path:
    path = tmp_path / name
    path.write_text(text.replace("1500", str(speed)) + "\n", encoding="utf-8")
    return path


def unit_of(lab: Lab, file: str) -> str:
    (taken,) = (each for each in open_book(lab).taken.values() if each.file == file)
    return next(each["unit"] for each in taken.layout["columns"] if each["header"] == "Airflow")


def saved_in(lab: Lab, tmp_path: Path, name: str = "duct", unit: str = "CFM") -> None:
    said = {"fan": "Sedge", "unit:Airflow": unit}
    bring_in(lab, [export(tmp_path, f"{name}.csv", 1500 + len(unit))], said, save_layout=name)


def test_a_layout_is_kept_whole(lab: Lab, tmp_path: Path) -> None:
    saved_in(lab, tmp_path)
    kept = open_book(lab).layouts["duct"]
    assert kept.reading == {"fan": "Sedge"}
    assert kept.tables is not None
    assert [each["unit"] for each in kept.tables[0]["columns"]] == ["CFM", "Pa", "rpm"]


def test_a_file_of_the_same_shape_is_read_by_it_and_it_is_said(lab: Lab, tmp_path: Path) -> None:
    saved_in(lab, tmp_path)
    path = export(tmp_path, "later.csv", 900)
    shown = bring_in(lab, [path], {"fan": "Sedge"}, preview=True)
    assert shown.by_layout == {"later.csv": "duct"}
    added = bring_in(lab, [path], {"fan": "Sedge"})
    assert added.by_layout == {"later.csv": "duct"}
    assert unit_of(lab, "later.csv") == "CFM"


def test_of_two_that_fit_none_is_taken_in_silence(lab: Lab, tmp_path: Path) -> None:
    saved_in(lab, tmp_path)
    saved_in(lab, tmp_path, "tunnel", "l/s")
    path = export(tmp_path, "later.csv", 900)
    with pytest.raises(BadInput) as caught:
        bring_in(lab, [path], {"fan": "Sedge"})
    assert "duct and tunnel" in caught.value.found
    assert "--layout tunnel" in caught.value.expected
    added = bring_in(lab, [path], {"fan": "Sedge"}, ask=lambda words: "tunnel" if "layouts" in words else "")
    assert added.by_layout == {"later.csv": "tunnel"}
    assert unit_of(lab, "later.csv") == "l/s"


def test_reading_by_a_layout_is_strict(lab: Lab, tmp_path: Path) -> None:
    saved_in(lab, tmp_path)
    other = export(tmp_path, "other.csv", 900, BARE.replace("Static pressure", "Pressure"))
    with pytest.raises(StillroomError) as caught:
        bring_in(lab, [other], {}, layout="duct")
    assert "other.csv, line 1, column 2" in caught.value.place
    assert "Static pressure [Pa]" in caught.value.expected
    with pytest.raises(BadInput, match="--layout"):
        bring_in(lab, [other], {"unit:Airflow": "l/s"}, layout="duct")


@pytest.mark.parametrize("how", ["added", "named"])
def test_a_layout_is_shared_as_a_file(lab: Lab, tmp_path: Path, how: str) -> None:
    shared = tmp_path / "duct-rig.toml"
    said = {"fan": "Sedge", "unit:Airflow": "CFM"}
    bring_in(lab, [export(tmp_path, "x.csv", 1500)], said, save_layout=str(shared))
    assert "duct-rig" not in open_book(lab).layouts
    other = lab_at(tmp_path / "other")
    path = export(tmp_path, "y.csv", 900)
    if how == "added":
        assert bring_in(other, [shared], {}).records == {"layout": 1}
        bring_in(other, [path], {"fan": "Sedge"})
    else:
        bring_in(other, [path], {"fan": "Sedge"}, layout=str(shared))
    assert unit_of(other, "y.csv") == "CFM"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[[layout]]\ncolumns = 3\n", "columns"),
        ("layout = []\n", "file"),
        (
            'name = "x"\n[[layout]]\n[[layout.columns]]\nheader="Q"\nquantity="flow"\nunit="Pa"\n',
            "unit of flow",
        ),
        ("[[layout]", "TOML"),
    ],
)
def test_a_shared_file_that_is_wrong_is_named(lab: Lab, tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "bad.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(StillroomError) as caught:
        bring_in(lab, [export(tmp_path, "y.csv", 900)], {"fan": "Sedge"}, layout=str(path))
    assert "bad.toml" in caught.value.place
    assert words in caught.value.sentence()


def test_layouts_of_earlier_labs_are_still_used(lab: Lab, tmp_path: Path) -> None:
    old = SavedLayout(layout="duct", reading={"fan": "Sedge", "unit:Airflow": "CFM"})
    body = {"layout": "duct", "reading": {"fan": "Sedge", "unit:Airflow": "CFM"}}
    assert as_json(old) == body, "as such an entry stands in a journal"
    lab.write([Note(SavedLayout.kind, "duct", body)])
    bring_in(lab, [export(tmp_path, "y.csv", 900)], {}, layout="duct")
    assert unit_of(lab, "y.csv") == "CFM"


@pytest.mark.parametrize("name", ["names", " ", "a/b"])
def test_names_that_no_layout_can_have(lab: Lab, tmp_path: Path, name: str) -> None:
    with pytest.raises(BadInput, match="--save-layout"):
        bring_in(
            lab, [export(tmp_path, "x.csv", 1500)], {"fan": "S", "unit:Airflow": "CFM"}, save_layout=name
        )


def test_files_of_two_shapes_make_no_layout(lab: Lab, tmp_path: Path) -> None:
    two = [
        export(tmp_path, "x.csv", 1500),
        export(tmp_path, "y.csv", 900, BARE.replace("Static pressure", "Pressure")),
    ]
    with pytest.raises(BadInput, match="files of one shape"):
        bring_in(lab, two, {"fan": "Sedge", "unit:Airflow": "CFM"}, save_layout="both")


def test_an_unknown_layout_is_named(lab: Lab, tmp_path: Path) -> None:
    saved_in(lab, tmp_path)
    with pytest.raises(UnknownThing, match="duct"):
        bring_in(lab, [export(tmp_path, "y.csv", 900)], {}, layout="dukt")


def test_a_missing_unit_is_asked_once_for_all_files(lab: Lab, tmp_path: Path) -> None:
    asked: list[str] = []

    def ask(words: str) -> str:
        asked.append(words)
        return "CFM" if "'Airflow'" in words else ""

    paths = [export(tmp_path, f"{n}.csv", n) for n in (900, 1200, 1500)]
    added = bring_in(lab, paths, {"fan": "Sedge"}, ask=ask)
    assert len(added.new) == 3
    assert len([each for each in asked if "unit" in each]) == 1
    assert {unit_of(lab, f"{n}.csv") for n in (900, 1200, 1500)} == {"CFM"}
    later = bring_in(lab, [export(tmp_path, "later.csv", 700)], {"fan": "Sedge"})
    assert later.by_layout == {"later.csv": "900"}, "what was answered is remembered, and said"


def test_without_a_terminal_each_file_says_what_to_pass(lab: Lab, tmp_path: Path) -> None:
    paths = [export(tmp_path, f"{n}.csv", n) for n in (900, 1200)]
    added = bring_in(lab, paths, {"fan": "Sedge"})
    assert [each.place.split(",")[0] for each in added.bad] == ["900.csv", "1200.csv"]
    assert all("--as 'unit:Airflow=" in each.expected for each in added.bad)
