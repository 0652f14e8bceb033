"""The files of the invented laboratory: all there, readable by the vocabulary, the same for a seed."""

import json
import re
import time
import tomllib
from pathlib import Path

import pytest
from inverted import Lab, read_export, read_table

from stillroom.demo.saving import NAMES
from stillroom.demo.write import write_exports
from stillroom.readers.paths.names import Pattern
from stillroom.vocabulary import BY_NAME

TABLES = ["claims", "events", "fans", "mountings", "obstacles", "prices", "rounds", "runs", "samples"]
INVENTED = re.findall(
    r"\w+",
    """
    Bracken Tormentil Bilberry Asphodel Sedge Sundew Crowberry Cottongrass Cloudberry Bogbean Butterwort
    Milkwort Gorse Cranberry Moorgrass Deergrass Sphagnum Cowberry Bearberry Lousewort Bedstraw Spearwort
    Bogmyrtle Cranberry Eyebright Stonecrop Harebell Fennock Ulverhag Tarnbeck Skelrigg Quillmoor Mirefold
    Hagstone Peatlane Parts Supply
    """,
)


@pytest.fixture(scope="module")
def full_lab(tmp_path_factory: pytest.TempPathFactory) -> Lab:
    folder = tmp_path_factory.mktemp("full") / "files"
    return folder, write_exports(folder, full=True)


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_counts_of_the_short_round(lab: Lab) -> None:
    folder, _ = lab
    assert sorted(path.stem for path in folder.glob("*.csv")) == TABLES
    assert len(read_table(folder / "fans.csv")) == 6
    assert len(read_table(folder / "obstacles.csv")) == 3
    assert len(read_table(folder / "mountings.csv")) == 18
    runs = read_table(folder / "runs.csv")
    assert len(runs) == 18 * 6 + 3
    for run in runs:
        points = 14 if run["obstacle"] else 12
        assert len(list(read_export(folder / run["file"]))) == points


def test_counts_of_the_whole_round(full_lab: Lab) -> None:
    folder, truth = full_lab
    fans = read_table(folder / "fans.csv")
    retired = {row["fan"] for row in read_table(folder / "legacy.csv")}
    assert len(fans) == 20 + 1 + len(retired)
    assert sum(fan["size [mm]"] == "140" for fan in fans) == 6
    assert sum(fan["wires"] == "3" for fan in fans) == 3
    mountings = read_table(folder / "mountings.csv")
    checks = [each for each in mountings if each["fan"] == truth.reference_fan]
    assert 2 * len({each["date"] for each in checks}) <= len(checks) >= 12
    runs = read_table(folder / "runs.csv")
    assert len({run["duty [%]"] for run in runs if run["fan"]} - {""}) == 10
    own = {run["obstacle"] for run in runs if run["obstacle"] and "-140" not in run["obstacle"]}
    assert own == {"mesh", "rad27@1", "rad27@2", "dense", "grille", "fine", "rad45"}


@pytest.mark.parametrize("which", ["lab", "full_lab"])
def test_runs_mountings_and_samples_fit_together(which: str, request: pytest.FixtureRequest) -> None:
    folder, truth = request.getfixturevalue(which)
    runs = read_table(folder / "runs.csv")
    exports = {
        path.relative_to(folder).as_posix() for path in (folder / "exports").rglob("*") if path.is_file()
    }
    listed = {run["file"] for run in runs}
    assert listed <= exports
    named = Pattern(NAMES).table(sorted(each.removeprefix("exports/") for each in exports - listed))
    assert bool(named) == truth.full, "in the whole round some files are told by their names only"
    mountings = {row["mounting"]: row for row in read_table(folder / "mountings.csv")}
    samples = {(row["fan"], row["sample"]) for row in read_table(folder / "samples.csv")}
    assert {(row["fan"], row["sample"]) for row in mountings.values()} == samples
    for run in runs:
        if run["fan"]:
            mounting = mountings[run["mounting"]]
            assert (run["fan"], run["sample"], run["rig"]) == tuple(
                mounting[k] for k in ("fan", "sample", "rig")
            )


def test_every_column_is_a_word_of_the_vocabulary(lab: Lab) -> None:
    folder, _ = lab
    starts = set()
    for path in (folder / "exports").rglob("*.?sv"):
        starts.add(path.read_bytes()[:2])
        for row in read_export(path):
            unknown = {word for word in row if word not in BY_NAME}
            assert unknown <= {"point", "Messpunkt", "nozzles"}
    assert starts == {b"po", b"Me", b"\xff\xfe"}, "plain, Windows-1252 and UTF-16"


def test_nozzles_are_in_the_bank_and_in_their_window(lab: Lab) -> None:
    folder, truth = lab
    rigs = tomllib.loads((folder / "rigs.toml").read_text(encoding="utf-8"))
    bank = rigs["rig"]["chamber"]["nozzles"]
    assert list(rigs["nozzle"]) == bank == list(truth.bores)
    assert set(rigs["rig"]["chamber"]["roles"].values()) == set(rigs["instrument"])
    for run in read_table(folder / "runs.csv"):
        if run["rig"] != "chamber":
            continue
        for row in read_export(folder / run["file"]):
            if row["nozzles"] == "none":
                assert row["nozzle_pressure"] == 0.0
            else:
                assert set(str(row["nozzles"]).split("+")) <= set(bank)
                assert 25 <= float(row["nozzle_pressure"]) <= 600, run["file"]


def test_a_sweep_covers_the_curve(lab: Lab) -> None:
    folder, _ = lab
    rows = list(read_export(folder / "exports/Bracken/s1/m1/100pct.csv"))
    assert rows[0]["nozzles"] == "none"
    assert abs(float(rows[-1]["static_pressure"])) < 0.4
    speeds = [float(row["speed"]) for row in rows]
    assert 1.01 < speeds[-1] / speeds[0] < 1.05, "the fan speeds up as its load falls"


def test_names_are_invented(full_lab: Lab) -> None:
    folder, _ = full_lab
    fans = read_table(folder / "fans.csv")
    shops = {row["shop"] for table in ("samples", "prices") for row in read_table(folder / f"{table}.csv")}
    names = {fan["fan"] for fan in fans} | {fan["maker"] for fan in fans} | shops
    assert {word for name in names for word in name.split()} <= set(INVENTED)
    assert all(re.fullmatch(r"\w+ 1[24]0", fan["model"]) for fan in fans)
    assert all(re.fullmatch(r"[A-Z]\. [A-Z]\.", row["by"]) for row in read_table(folder / "mountings.csv"))


def test_same_seed_same_bytes(lab: Lab, tmp_path: Path) -> None:
    folder, truth = lab
    again = write_exports(tmp_path / "again")
    assert bytes_of(tmp_path / "again") == bytes_of(folder)
    assert again == truth
    assert (tmp_path / "truth.json").read_bytes() == (folder.parent / "truth.json").read_bytes()
    write_exports(tmp_path / "other", seed=1, truth_path=tmp_path / "other.json")
    other = bytes_of(tmp_path / "other")
    assert all(other[name] != content for name, content in bytes_of(folder).items() if "exports" in name)


def test_truth_is_json_outside_the_folder(lab: Lab) -> None:
    folder, truth = lab
    told = json.loads((folder.parent / "truth.json").read_text(encoding="utf-8"))
    assert told["seed"] == truth.seed
    assert len(told["fans"]) == len(truth.fans)
    assert not list(folder.rglob("truth*"))


def test_writing_is_quick(tmp_path: Path) -> None:
    start = time.process_time()
    write_exports(tmp_path / "lab")
    assert time.process_time() - start < 2.0
