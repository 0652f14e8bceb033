"""The methodology of labs that have little: only a chamber, or nothing told beside the readings."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from stillroom.lab.intake.intake import bring_in
from stillroom.publish.contents import gather
from stillroom.publish.document import Document, Formula, Grid, Heading, plain
from stillroom.publish.document.as_text import as_text
from stillroom.publish.methodology import methodology_of
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

FANS = {"Harebell": (90.0, 18.0), "Oxlip": (75.0, 19.5)}
"""Free airflow [m³/h] and maximum pressure [Pa] of two invented fans, at 1,500 rpm."""


def sweep(share: float, flow: float, pressure: float) -> str:
    """A sweep of a fan at a share of its speed, by the fan laws, with some scatter, as CSV."""
    rows = ["speed [rpm],flow [m³/h],static pressure [Pa]"]
    for point in range(11):
        at, scatter = point / 10, 1.0 + 0.002 * ((point * 7) % 5 - 2)
        rows.append(
            f"{1500 * share:.0f},{flow * share * at:.2f},{pressure * share**2 * (1 - at**2) * scatter:.3f}"
        )
    return "\n".join(rows) + "\n"


@pytest.fixture(scope="module")
def bare(tmp_path_factory: pytest.TempPathFactory) -> Document:
    """Of a lab with sweeps of flow and pressure alone: no record of anything."""
    base = tmp_path_factory.mktemp("bare")
    for fan, (flow, pressure) in FANS.items():
        (base / "exports" / fan).mkdir(parents=True)
        for duty in (40, 60, 80, 100):
            (base / "exports" / fan / f"{duty}pct.csv").write_text(
                sweep(duty / 100, flow, pressure), encoding="utf-8"
            )
    folder.make(
        base / "lab",
        template("Bare").replace('# names = "{fan}/s{sample}/{duty}pct"', 'names = "{fan}/{duty}pct"'),
    )
    with Lab(base / "lab") as lab:
        bring_in(lab, [base / "exports"], {})
        return methodology_of(
            gather(lab, "first", date="2026-11-27", measures=("free-airflow", "maximum-pressure"))
        )


REGISTERS = ("rigs.toml", "fans.csv", "samples.csv", "obstacles.csv", "mountings.csv", "runs.csv")
READINGS = ("exports/Bracken", "exports/Sundew", "exports/obstacles")


@pytest.fixture(scope="module")
def chamber(published_lab: Path, tmp_path_factory: pytest.TempPathFactory) -> Document:
    """Of a lab with a chamber, whose registers are whole, and nothing else: a part of what the demo brings in."""
    base = tmp_path_factory.mktemp("chamber")
    for name in REGISTERS:
        (base / "bench").mkdir(exist_ok=True)
        shutil.copy(published_lab / "bench" / name, base / "bench" / name)
    for name in READINGS:
        shutil.copytree(published_lab / "bench" / name, base / "bench" / name)
    folder.make(base / "lab", template("Chamber"))
    with Lab(base / "lab") as lab:
        bring_in(lab, [base / "bench"], {})
        return methodology_of(gather(lab, "first", date="2026-11-27", measures=("airflow through rad27",)))


def said(document: Document) -> str:
    return " ".join(as_text(document).replace("\u00a0", " ").split())


def headings(document: Document) -> list[str]:
    return [each.text for each in document.blocks if isinstance(each, Heading)]


def cells(document: Document, caption: str) -> list[list[str]]:
    found = next(each for each in document.blocks if isinstance(each, Grid) and each.caption == caption)
    return [[plain(cell) for cell in row] for row in found.rows]


def test_where_nothing_is_told_it_says_so_and_leaves_no_blank(bare: Document) -> None:
    assert {tuple(row[1:5]) for row in cells(bare, "Fans")} == {("not told",) * 4}
    assert {tuple(row[1:6]) for row in cells(bare, "Samples")} == {("not told",) * 5}
    for each in bare.blocks:
        if isinstance(each, Grid):
            assert all(plain(cell).strip() for row in each.rows for cell in row), each.caption
    told = said(bare)
    assert "Neither the days nor the order of measuring were told." in told
    assert "accuracy not told, ± 5 % of reading assumed" in told
    assert "Relative humidity was not recorded: 50 % assumed" in told
    assert "No reference fan was named" in told
    assert "None is agreed yet: the assumed ones stand." in told
    assert "No record tells where these samples came from: Harebell/s1 and Oxlip/s1." in told


def test_what_was_not_done_is_not_described(bare: Document) -> None:
    assert "Geometry" not in headings(bare)
    assert not {"Sound", "Heat", "Control", "Nozzles", "Microphone", "Obstacles"} & set(headings(bare))
    told = said(bare)
    assert "Nozzle flow" not in told
    assert "Metered flow" in told
    assert "We did not measure sound: nothing here says which fan is quieter." in told
    assert "We had one sample of each fan." in told
    assert "quiet room" not in told
    assert "Hot surfaces" not in told
    formulas = [each.plain for each in bare.blocks if isinstance(each, Formula)]
    assert not [each for each in formulas if each.startswith(("Q = Y", "C =", "Δp =", "K₁", "ΔT"))]


def test_a_lab_with_a_chamber_alone_tells_its_nozzles_and_no_microphone(chamber: Document) -> None:
    assert {"Nozzles", "Obstacles"} <= set(headings(chamber))
    assert not {"Sound", "Heat", "Control", "Microphone"} & set(headings(chamber))
    told = said(chamber)
    assert "Nozzle flow." in told
    assert "We did not measure temperatures" in told
    assert "how loud they are" not in told
    assert "The rules that had something to look at" in told
    assert "Microphone not where the method says" not in told
    assert "Nothing was excluded by a decision." in told
    assert "Compressed air and doors moved by it" in told


def test_no_sentence_of_the_bare_lab_names_a_thing_that_it_has_not(bare: Document) -> None:
    for word in ("dBA", "radiator", "microphone", "nozzle coefficient", "certificate"):
        assert word not in said(bare).replace("a radiator", ""), word
