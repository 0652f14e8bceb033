"""Names of files: patterns side by side, one file that doesn't fit, names that differ only in their writing."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from stillroom.errors import BadInput, Contradiction
from stillroom.lab.book import Placed, open_book, place_all
from stillroom.lab.intake.batch import Added, Ask
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.intake.layouts import REMEMBERED
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

HEAD = "Airflow [m³/h];Static pressure [Pa];Speed [rpm]\n"
FOLDERS = "{fan}/s{sample}/{duty}pct"


def sweep(speed: float) -> str:
    points = ((0, 40.0), (20, 35.0), (40, 28.0), (60, 15.0), (80, 0.0))
    return HEAD + "".join(f"{flow};{pressure:g};{speed:g}\n" for flow, pressure in points)


@pytest.fixture
def lab(tmp_path: Path) -> Lab:
    folder.make(tmp_path / "lab", template("Test"))
    return Lab(tmp_path / "lab")


def add(
    lab: Lab, files: Mapping[str, str], *, preview: bool = False, ask: Ask | None = None, **said: str
) -> Added:
    base = lab.path.parent / f"e{len(list(lab.path.parent.iterdir()))}" / "exports"
    for name, text in files.items():
        (base / name).parent.mkdir(parents=True, exist_ok=True)
        (base / name).write_text(text, encoding="utf-8")
    return bring_in(lab, [base], {"accuracy": "± 3 % of reading"} | said, preview=preview, ask=ask)


def placed(lab: Lab) -> dict[str, Placed]:
    return {each.taken.file.rpartition("/")[2]: each for each in place_all(open_book(lab))}


def remembered(lab: Lab) -> list[str]:
    return open_book(lab).layouts[REMEMBERED].reading["names"].split("\n")


ORDINARY = {
    "Alder/s1/60pct.csv": sweep(900),
    "Alder/s1/80pct.csv": sweep(1200),
    "Birch/s1/60pct.csv": sweep(800),
}


def yes(_words: str) -> str:
    return "y"


@pytest.mark.parametrize("preview", [True, False])
def test_one_file_of_another_depth_is_bad_and_the_others_come_in(lab: Lab, *, preview: bool) -> None:
    added = add(lab, {**ORDINARY, "tornado_s1.tsv": sweep(700)}, preview=preview, ask=yes)
    (bad,) = added.bad
    assert (bad.thing, bad.found) == ("path 'exports/tornado_s1.tsv'", "1 folder above the file")
    assert bad.expected.startswith("3 folders")
    assert sorted(added.parts if preview else added.new) == sorted(f"exports/{each}" for each in ORDINARY)


def test_a_pattern_for_one_file_stands_beside_the_one_for_folders(lab: Lab) -> None:
    add(lab, ORDINARY, ask=yes)
    add(lab, {"Tornado_s2.csv": sweep(700)}, names="{fan}_s{sample}")
    assert remembered(lab) == [FOLDERS, "{fan}_s{sample}"]
    added = add(lab, {"Cedar/s3/70pct.csv": sweep(950), "Dogwood_s1.csv": sweep(650)})
    assert added.bad == ()
    found = placed(lab)
    assert (found["70pct.csv"].fan, found["70pct.csv"].sample, found["70pct.csv"].setting) == (
        "Cedar",
        "s3",
        0.7,
    )
    assert (found["Dogwood_s1.csv"].fan, found["Dogwood_s1.csv"].sample) == ("Dogwood", "s1")


def test_of_patterns_that_fit_the_one_of_more_folders_reads_the_name(lab: Lab) -> None:
    add(lab, {"Tornado.csv": sweep(700)}, names="{fan}")
    add(lab, ORDINARY, names=FOLDERS)
    add(lab, {"Cedar/s3/70pct.csv": sweep(950)})
    assert placed(lab)["70pct.csv"].fan == "Cedar"


def test_patterns_that_fit_and_say_different_things_are_asked_about(lab: Lab) -> None:
    add(lab, {"Tornado_s2.csv": sweep(700)}, names="{fan}_s{sample}")
    add(lab, {"Gale_mesh.csv": sweep(710)}, names="{fan}_{obstacle}")
    with pytest.raises(Contradiction, match=r"fan}_s.*fan}_.obstacle"):
        add(lab, {"Cedar_s3.csv": sweep(950)})
    assert add(lab, {"Cedar_s3.csv": sweep(950)}, names="{fan}_s{sample}").new


def test_a_name_that_no_pattern_fits_is_asked_at_a_terminal_and_bad_without(lab: Lab) -> None:
    add(lab, {"Tornado_s2.csv": sweep(700)}, names="{fan}_s{sample}")
    with pytest.raises(BadInput, match="Cedar"):
        add(lab, {"Cedar/60pct.csv": sweep(950)})
    added = add(lab, {"Cedar/60pct.csv": sweep(950), "Elm_s1.csv": sweep(651)}, ask=yes)
    assert (len(added.new), added.bad) == (2, ())
    assert remembered(lab) == ["{fan}_s{sample}", "{fan}/{duty}pct"]


def test_the_pattern_of_the_settings_comes_first(tmp_path: Path) -> None:
    folder.make(
        tmp_path / "lab",
        template("Test").replace("# names =", "names =").replace(FOLDERS, "{fan}_{obstacle}"),
    )
    lab = Lab(tmp_path / "lab")
    assert lab.settings.names == "{fan}_{obstacle}"
    add(lab, {"Tornado_s2.csv": sweep(700)}, names="{fan}_s{sample}")
    add(lab, {"Cedar_mesh.csv": sweep(950)})
    assert placed(lab)["Cedar_mesh.csv"].obstacle == "mesh"


def test_a_fan_that_differs_only_in_case_is_the_one_that_is_known_and_it_is_said(lab: Lab) -> None:
    add(lab, {"Tornado_s2.csv": sweep(700)}, names="{fan}_s{sample}")
    by_name = {"tornado_s2.csv": sweep(720), "x_s1.csv": "Fan: TORNADO\n" + sweep(730)}
    for preview in (True, False):
        marks = add(lab, {"tornado_s2.csv": by_name["tornado_s2.csv"]}, preview=preview).marks
        assert any("tornado is taken for Tornado" in each for each in marks)
    noted = add(lab, {"later.csv": by_name["x_s1.csv"]})
    assert any("TORNADO is taken for Tornado" in each for each in noted.marks)
    told = add(lab, {"told.csv": sweep(740)}, fan="tOrnado")
    assert any("tOrnado is taken for Tornado" in each for each in told.marks)
    assert {each.fan for each in placed(lab).values()} == {"Tornado"}


def test_two_ways_to_write_a_fan_that_come_in_together_are_one_fan(lab: Lab) -> None:
    table = "file,fan,sample\na.csv,Gale,s1\nb.csv,gale,s2\n"
    added = add(lab, {"runs.csv": table, "a.csv": sweep(700), "b.csv": sweep(710)})
    assert any("gale is taken for Gale" in each for each in added.marks)
    assert {(each.fan, each.sample) for each in placed(lab).values()} == {("Gale", "s1"), ("Gale", "s2")}


@pytest.mark.parametrize(("record", "name"), [("", "s2"), ("Tornado,2\n", "2"), ("Tornado,s2\n", "s2")])
def test_a_sample_is_the_same_however_its_number_is_told(lab: Lab, record: str, name: str) -> None:
    if record:
        add(lab, {"samples.csv": f"fan,sample\n{record}"})
    add(lab, {"Tornado_2.csv": sweep(700)}, names="{fan}_{sample}")
    add(lab, {"x.csv": "Fan: Tornado\nSample: s2\n" + sweep(710)})
    add(lab, {"y.csv": "Fan: Tornado\nSample: S2\n" + sweep(720)})
    assert {each.sample for each in placed(lab).values()} == {name}
