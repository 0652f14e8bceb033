"""The demo of the whole round, told once with few trials: what it says of faults, eras, versions and claims."""

from __future__ import annotations

import importlib
from pathlib import Path

import pytest

from stillroom.demo.truth import Truth
from stillroom.demo.write import write_exports
from stillroom.errors import BadInput
from stillroom.verbs import demo
from stillroom.verbs.said import Said

pytestmark = pytest.mark.slow

Told = tuple[Said, Truth, Path]


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Told:
    folder = tmp_path_factory.mktemp("whole") / "lab"
    module = importlib.import_module("stillroom.verbs.demonstrating")
    usual = module._settings
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            module, "_settings", lambda full: usual(full).replace("# trials = 2000", "trials = 500")
        )
        said = demo(folder, full=True)
    return (
        said,
        write_exports(
            folder.parent / "again",
            full=True,
            truth_path=folder.parent / "truth.json",
            heat=True,
            control=True,
        ),
        folder,
    )


def test_its_steps(told: Told) -> None:
    said, _, _ = told
    assert [heading[:2] for heading, _ in said.tables] == ["1.", "2.", "3.", "4.", "5.", "6.", "7."]
    assert any(line.startswith("8. Now your own file") for line in said.lines)


def test_fans_at_three_noise_limits(told: Told) -> None:
    said, _, folder = told
    assert said.title.startswith("Through rad27 version\u00a02 at 35 dBA")
    settings = {row[0]: row[1:] for row in said.tables[6][1].rows}
    assert len(settings) >= 14
    assert "can’t run this quiet" in settings["Cloudberry"][0]
    assert "tops out" in settings["Sundew"][2]
    size = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
    assert size < 400e6


def test_each_fault_of_a_mounting_is_caught(told: Told) -> None:
    said, truth, _ = told
    caught = " ".join(f"{each['subject']} {each['place']} " for each in said.data["caught"])
    marked = {"door opened", "logger clock off"}  # left out, put right
    for fault in truth.faults:
        if fault.mounting and fault.files and fault.name not in marked:
            file = fault.files[0].rpartition("/")[2]
            assert f"mounting:{fault.mounting} " in caught or f"/{file}" in caught, fault.name


def test_a_tie_that_the_spreadsheet_puts_first_and_fourth(told: Told) -> None:
    said, truth, _ = told
    rows = said.tables[0][1].rows
    assert {rows[0][1], rows[3][1]} <= set(truth.near_tie) <= set(said.data["after"]["best"])


def test_the_truth_lies_in_the_intervals(told: Told) -> None:
    said, _, _ = told
    rows = [row for row in said.tables[3][1].rows if row[3]]
    assert len(rows) >= 12
    assert sum(row[3] == "inside" for row in rows) >= 0.9 * len(rows)
    beside = {row[1] for row in said.tables[0][1].rows}
    assert {
        row[0] for row in said.tables[3][1].rows
    } <= beside  # the reference fan, which the sheet leaves aside, too


def test_what_else_befell_the_round(told: Told) -> None:
    said, _, folder = told
    (bridge,) = said.data["after"]["bridges"]
    # what the flow reads since the tubes were renewed, 1.2 % more, goes into an operating point with about
    # half its size: the obstacle's pressure grows as the flow does
    assert 1.0 < bridge["low"] < bridge["ratio"] < bridge["high"] < 1.02
    rows = said.tables[5][1].rows
    assert any("tubes of the nozzle gauge" in row[0] for row in rows)
    assert any("paste under the block" in row[0] and " K (95 %" in row[2] for row in rows)
    assert any("rad27@2" in row[1] for row in rows)
    assert any("outside" in row[2] and "not checkable" in row[2] for row in rows)
    assert any("panels" in each for each in said.data["charts"])
    assert all(Path(each).exists() for each in said.data["charts"])
    assert (folder / "truth.json").exists()


def test_heat_of_fourteen_fans_at_the_same_noise(told: Told) -> None:
    said, _, _ = told
    heading, table = said.tables[4]
    assert heading.startswith("5. On the heat rig at 35 dBA")
    assert len(table.rows) == 14
    ranked = [row for row in table.rows if row[6]]
    assert len(ranked) >= 13
    assert sum(row[6] == "inside" for row in ranked) >= 0.9 * len(ranked)


def test_the_other_extent_wants_another_folder(told: Told) -> None:
    with pytest.raises(BadInput, match="whole demo lab"):
        demo(told[2], no_add=True)
