"""Bringing files in: day one without tables, the same bytes twice, what is refused and leaves the lab as it was."""

from __future__ import annotations

from pathlib import Path

import pytest

from stillroom.errors import BadInput, Contradiction, StillroomError, UnknownThing, UnknownUnit
from stillroom.lab.book import open_book, place_all
from stillroom.lab.intake.batch import Added
from stillroom.lab.intake.intake import bring_in
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

SWEEP = "Airflow [m³/h],Static pressure [Pa],Speed [rpm]\n" + "\n".join(
    f"{10 * i},{30 - 0.3 * i * i:.2f},1500" for i in range(9)
)
CHAMBER = "p_s [Pa],dp nozzle [Pa],nozzles,speed [rpm]\n" + "\n".join(
    f"{30 - 3 * i},{40 + 20 * i},N25,1500" for i in range(8)
)


@pytest.fixture
def lab(tmp_path: Path) -> Lab:
    folder.make(tmp_path / "lab", template("Test"))
    return Lab(tmp_path / "lab")


def put(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def state(lab: Lab) -> tuple[int, list[str]]:
    """Entries in the journal and files among the originals: what must not move when something is refused."""
    count = lab.database.execute("SELECT COUNT(*) FROM journal").fetchone()[0]
    return count, sorted(each.name for each in (lab.path / "originals").rglob("*") if each.is_file())


def refused(lab: Lab, kind: type[StillroomError], path: Path, **said: str) -> StillroomError:
    before = state(lab)
    with pytest.raises(kind) as caught:
        bring_in(lab, [path], said)
    assert state(lab) == before
    return caught.value


def day_one(tmp_path: Path) -> Path:
    exports = tmp_path / "exports"
    for duty in (40, 60, 100):
        put(exports / "fan-07" / "s1" / f"{duty}pct.csv", SWEEP.replace("1500", str(15 * duty)))
    return exports


def test_names_are_never_believed_without_a_word(lab: Lab, tmp_path: Path) -> None:
    error = refused(lab, BadInput, day_one(tmp_path))
    assert "names={fan}/s{sample}/{duty}pct" in error.expected
    assert "fan-07" in error.found


def test_names_are_confirmed_once_and_remembered(lab: Lab, tmp_path: Path) -> None:
    asked: list[str] = []

    def ask(words: str) -> str:
        asked.append(words)
        return "y" if "Is that right" in words else ""

    added = bring_in(lab, [day_one(tmp_path)], {}, ask=ask)
    assert len(added.new) == 3
    assert [each[:3] for each in asked] == ["How", "exp"], "the accuracy, then the names: each asked once"
    assert any("± 5 %" in each for each in added.marks)
    put(tmp_path / "exports" / "fan-08" / "s2" / "70pct.csv", SWEEP.replace("1500", "777"))
    again = bring_in(lab, [tmp_path / "exports"], {})
    assert (len(again.new), len(again.known)) == (1, 3)
    placed = {each.taken.file: each for each in place_all(open_book(lab))}
    eight = placed["exports/fan-08/s2/70pct.csv"]
    assert (eight.fan, eight.sample, eight.setting, eight.registered) == ("fan-08", "s2", 0.7, False)


def test_names_can_be_told_by_a_pattern(lab: Lab, tmp_path: Path) -> None:
    added = bring_in(lab, [day_one(tmp_path)], {"names": "{fan}/s{sample}/{duty}pct"})
    assert len(added.new) == 3
    assert open_book(lab).layouts["names"].reading == {"names": "{fan}/s{sample}/{duty}pct"}


def test_one_file_with_everything_told(lab: Lab, tmp_path: Path) -> None:
    path = put(tmp_path / "x.csv", SWEEP)
    bring_in(lab, [path], {"fan": "Sedge", "sample": "2", "duty": "60", "accuracy": "± 3 % of reading"})
    (placed,) = place_all(open_book(lab))
    assert (placed.fan, placed.sample, placed.setting) == ("Sedge", "s2", 0.6)
    assert placed.taken.said is not None
    assert float(placed.taken.said["accuracy_relative"]) == 0.03


def test_the_same_bytes_twice_change_nothing(lab: Lab, tmp_path: Path) -> None:
    path = put(tmp_path / "x.csv", SWEEP)
    bring_in(lab, [path], {"fan": "Sedge"})
    before = state(lab)
    copy = put(tmp_path / "copy.csv", SWEEP)
    added = bring_in(lab, [path, copy], {"fan": "Sedge"})
    assert (added.new, added.known) == ((), ("x.csv", "copy.csv"))
    assert state(lab) == before


def test_the_same_bytes_read_otherwise_are_a_new_entry(lab: Lab, tmp_path: Path) -> None:
    path = put(tmp_path / "x.csv", SWEEP)
    bring_in(lab, [path], {"fan": "Sedge"})
    added = bring_in(lab, [path], {"fan": "Sedge", "unit:Airflow [m³/h]": "CFM"})
    assert added.again == ("x.csv",)
    (taken,) = open_book(lab).taken.values()
    assert "CFM" in str(taken.layout)


def test_a_layout_is_saved_and_used(lab: Lab, tmp_path: Path) -> None:
    bare = SWEEP.replace(" [m³/h]", "")
    said = {"fan": "Sedge", "unit:Airflow": "CFM"}
    bring_in(lab, [put(tmp_path / "x.csv", bare)], said, save_layout="duct")
    added = bring_in(lab, [put(tmp_path / "y.csv", bare.replace("1500", "900"))], {}, layout="duct")
    assert added.new == ("y.csv",)
    with pytest.raises(UnknownThing, match="duct"):
        bring_in(lab, [tmp_path / "y.csv"], {}, layout="dukt")


def test_a_correction_stays_when_the_folder_is_added_again(lab: Lab, tmp_path: Path) -> None:
    exports = day_one(tmp_path)
    bring_in(lab, [exports], {"names": "{fan}/s{sample}/{duty}pct"})
    wrong = exports / "fan-07" / "s1" / "60pct.csv"
    added = bring_in(lab, [wrong], {"fan": "fan-08"})
    assert added.again == ("60pct.csv (fan was fan-07, is fan-08)",)
    again = bring_in(lab, [exports], {})
    assert (again.new, again.again) == ((), ())
    placed = {each.taken.file: each for each in place_all(open_book(lab))}
    corrected = placed["exports/fan-07/s1/60pct.csv"]
    assert (corrected.fan, corrected.sample, corrected.setting) == ("fan-08", "s1", 0.6)


def test_a_rig_that_comes_later_does_not_take_earlier_runs(lab: Lab, tmp_path: Path) -> None:
    bring_in(lab, [put(tmp_path / "x.csv", SWEEP)], {"fan": "Sedge"})
    bring_in(lab, [put(tmp_path / "r.toml", '[rig.duct]\naccuracy = "± 3 % of reading"\n')], {})
    bring_in(lab, [put(tmp_path / "y.csv", SWEEP.replace("1500", "900"))], {"fan": "Sedge"})
    assert [each.rig for each in place_all(open_book(lab))] == ["", "duct"]


@pytest.mark.parametrize("key", ["units:Airflow", "foo", "rigs"])
def test_a_key_that_means_nothing_is_refused(lab: Lab, tmp_path: Path, key: str) -> None:
    error = refused(lab, BadInput, put(tmp_path / "x.csv", SWEEP), fan="Sedge", **{key: "x"})
    assert key in error.found


def test_a_logger_s_log_is_refused(lab: Lab, tmp_path: Path) -> None:
    rows = "\n".join(f"{i / 10},{30 - i / 100},1500" for i in range(301))
    error = refused(lab, BadInput, put(tmp_path / "x.csv", SWEEP.splitlines()[0] + "\n" + rows), fan="Sedge")
    assert "average" in error.expected


def test_a_folder_with_nothing_in_it_is_told(lab: Lab, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    refused(lab, BadInput, tmp_path / "empty")


def test_a_preview_asks_nothing(lab: Lab, tmp_path: Path) -> None:
    added = bring_in(lab, [day_one(tmp_path)], {}, preview=True)
    assert len(added.understood) == 1, "three files of one shape are described once"
    assert any(
        each.startswith("and 2 more like it") for each in added.understood["exports/fan-07/s1/100pct.csv"]
    )
    assert len(added.parts) == 3
    assert "{fan}/s{sample}/{duty}pct" in added.names


def test_a_preview_shows_a_reading_in_the_units_of_the_lab(tmp_path: Path) -> None:
    units = '[units]\nflow = "CFM"\npressure = "mmH₂O"\n'
    folder.make(tmp_path / "other", template("Other") + units)
    path = tmp_path / "a.csv"
    rows = "".join(f"{q},{p},1500\n" for q, p in ((0, 20), (16.99, 9.80665), (30, 1)))
    path.write_text("Airflow [m³/h],Static pressure [Pa],Speed [rpm]\n" + rows, encoding="utf-8")
    with Lab(tmp_path / "other") as lab:
        words = bring_in(lab, [path], {"fan": "Sedge"}, preview=True).understood["a.csv"]
    told = "line 3 as this lab shows it: airflow 10.0 CFM, static pressure 1.00 mmH₂O, speed 1,500 rpm"
    assert told in [each.replace("\u00a0", " ") for each in words]


def test_a_unit_told_by_a_bare_name_does_not_move_what_a_header_says(lab: Lab, tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    rows = "".join(f"{q},{p},1500\n" for q, p in ((0, 20), (16.99, 9.80665), (30, 1)))
    path.write_text("Airflow [m³/h],Static pressure [Pa],Speed [rpm]\n" + rows, encoding="utf-8")
    with pytest.raises(Contradiction, match=r"the header 'Airflow \[m³/h\]' says 'm³/h'"):
        bring_in(lab, [path], {"fan": "Sedge", "unit:Airflow": "CFM"})
    bring_in(lab, [path], {"fan": "Sedge", "unit:Airflow [m³/h]": "CFM"})


def test_a_preview_writes_nothing(lab: Lab, tmp_path: Path) -> None:
    before = state(lab)
    added = bring_in(lab, [put(tmp_path / "x.csv", SWEEP)], {"fan": "Sedge"}, preview=True)
    assert isinstance(added, Added)
    assert any("m³/h" in words for words in added.understood["x.csv"])
    assert state(lab) == before


def test_a_nozzle_that_is_in_no_bank(lab: Lab, tmp_path: Path) -> None:
    error = refused(lab, UnknownThing, put(tmp_path / "x.csv", CHAMBER), fan="Sedge")
    assert "N25" in error.thing
    assert error.place == "x.csv, line 2"
    put(
        tmp_path / "r.toml",
        '[rig.chamber]\naccuracy = "± 3 % of reading"\nnozzles = ["N25"]\n[nozzle.N25]\nbore = "25 mm"\n',
    )
    added = bring_in(lab, [tmp_path / "x.csv", tmp_path / "r.toml"], {"fan": "Sedge"})
    assert added.new == ("x.csv",)


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("", StillroomError, ""),
        ("\x00\x01\x02binary", StillroomError, ""),
        (SWEEP.replace("[m³/h]", "[furlongs]"), UnknownUnit, "furlongs"),
        (SWEEP.replace(" [m³/h]", ""), UnknownUnit, "Airflow"),
        (SWEEP.replace("27.30", "NaN"), BadInput, "NaN"),
        (SWEEP[:-9], StillroomError, ""),
    ],
    ids=["empty", "binary", "unknown unit", "no unit", "NaN", "cut"],
)
def test_bad_files_leave_the_lab_as_it_was(
    lab: Lab, tmp_path: Path, text: str, kind: type[StillroomError], words: str
) -> None:
    error = refused(lab, kind, put(tmp_path / "x.csv", text), fan="Sedge")
    assert "x.csv" in error.place + error.thing
    assert words in error.sentence()


def test_swapped_columns(lab: Lab, tmp_path: Path) -> None:
    head = "Airflow [m³/h],Static pressure [Pa],Speed [rpm],t_air [°C],p_baro [hPa]\n"
    rows = "\n".join(f"{10 * i},{30 - 3 * i},1500,1013.2,22.1" for i in range(9))
    refused(lab, Contradiction, put(tmp_path / "x.csv", head + rows), fan="Sedge")


def test_one_bad_file_of_many_is_named_and_the_others_come_in(lab: Lab, tmp_path: Path) -> None:
    exports = day_one(tmp_path)
    put(exports / "fan-07" / "s1" / "80pct.csv", SWEEP.replace("27.30", "NaN"))
    put(exports / "fan-07" / "s1" / "90pct.csv", SWEEP.replace(" [m³/h]", ""))
    added = bring_in(lab, [exports], {"names": "{fan}/s{sample}/{duty}pct"})
    assert len(added.new) == 3
    eighty, ninety = added.bad
    assert ("80pct.csv" in eighty.place, "NaN" in eighty.found) == (True, True)
    assert ("90pct.csv" in ninety.place, "unit:Airflow" in ninety.expected) == (True, True)
    assert state(lab)[0] == 3 * 2 + 1, "an original and a run a file, and the pattern"


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "empty"),
        ("\n \n", "empty"),
        ("rubbish", "without a table"),
        ("Bench notes\nThe seal was changed on 3 May.\nSedge is 25 mm thick.\n", "without a table"),
        ("\x89PNG\r\n", "picture"),
    ],
)
def test_what_holds_no_measurement_is_left_out_with_the_reason(
    lab: Lab, tmp_path: Path, text: str, why: str
) -> None:
    exports = day_one(tmp_path)
    (exports / "readme.txt").write_bytes(text.encode("latin-1"))
    added = bring_in(lab, [exports], {"names": "{fan}/s{sample}/{duty}pct"})
    assert (len(added.new), added.bad) == (3, ())
    assert why in added.left_out["exports/readme.txt"]


@pytest.mark.parametrize("cell", ["loud", "", "240"])
def test_a_short_sheet_with_a_wrong_cell_is_bad_not_left_out(lab: Lab, tmp_path: Path, cell: str) -> None:
    (tmp_path / "exports").mkdir()
    sheet = f"fan,speed [rpm],level [dBA]\nSedge,900,{cell}\nSedge,1200,29.3\n"
    (tmp_path / "exports" / "sheet.csv").write_text(sheet)
    with pytest.raises(BadInput, match="line 2, column 3") as caught:
        bring_in(lab, [tmp_path / "exports"], {})
    assert caught.value.thing == "column 'level [dBA]'"


def test_other_files_in_a_folder_are_left_out_and_named(lab: Lab, tmp_path: Path) -> None:
    exports = day_one(tmp_path)
    put(exports / "photo.jpg", "not really")
    added = bring_in(lab, [exports], {"names": "{fan}/s{sample}/{duty}pct"})
    assert list(added.left_out) == ["exports/photo.jpg"]


def test_a_run_table_comes_before_the_names(lab: Lab, tmp_path: Path) -> None:
    put(tmp_path / "e" / "a.csv", SWEEP)
    put(tmp_path / "e" / "runs.csv", "file,mounting,fan,sample,duty [%]\na.csv,m1,Sedge,s1,60\n")
    added = bring_in(lab, [tmp_path / "e"], {})
    assert added.records["run"] == 1
    (placed,) = place_all(open_book(lab))
    assert (placed.fan, placed.mounting, placed.setting_word) == ("Sedge", "m1", "60%")


def test_a_table_that_says_the_same_is_no_news(lab: Lab, tmp_path: Path) -> None:
    table = put(tmp_path / "fans.csv", "fan,maker,size [mm]\nSedge,Quillmoor,120\n")
    assert bring_in(lab, [table], {}).records == {"fan": 1}
    before = state(lab)
    assert bring_in(lab, [table], {}).records == {}
    assert state(lab) == before
    changed = put(tmp_path / "fans2.csv", "fan,maker,size [mm]\nSedge,Quillmoor,140\n")
    assert bring_in(lab, [changed], {}).records == {"fan": 1}
    assert open_book(lab).fans["Sedge"].size == pytest.approx(0.14)
