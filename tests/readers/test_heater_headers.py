"""Columns of a heater that their unit tells, and what is said where a quantity is told by hand that can't be."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from stillroom.errors import StillroomError
from stillroom.lab.intake.intake import bring_in
from stillroom.readers.meaning.understanding import understand
from stillroom.readers.source import Source
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab


def log(path: Path, heads: str) -> Path:
    """A log of two minutes with two columns of the heater, written to a path."""
    rows = [
        f"2026-03-03 09:{at // 60:02d}:{at % 60:02d},{40 + at * 0.01:.2f},22.0,60,5"
        for at in range(0, 120, 5)
    ]
    path.write_text("\n".join([f"time,hot probe [°C],air in [°C],{heads}", *rows]) + "\n", encoding="utf-8")
    return path


def held(path: Path, said: Mapping[str, str]) -> dict[str, tuple[str, str]]:
    """{header: quantity, unit} as a file is understood."""
    (block,) = understand(Source.of_path(path, path.name), said).blocks
    return {each.header: (each.quantity, each.unit) for each in block.layout.columns}


@pytest.mark.parametrize(
    "heads",
    ["Heater [V],Heater [A]", "Heater (V),Heater (A)", "Heater U [V],Heater I [A]", "Load V,Load A",
     "U_heater [V],I_heater [A]", "Load [V],Load [A]", "Heater V,Heater A", "Heizung [V],Heizung [A]"],
)  # fmt: skip
def test_the_unit_tells_what_the_heater_column_holds(tmp_path: Path, heads: str) -> None:
    volts, amps = heads.split(",")
    found = held(log(tmp_path / "a.csv", heads), {})
    assert (found[volts], found[amps]) == (("heater_voltage", "V"), ("heater_current", "A"))


def test_a_heater_in_watts_is_its_power(tmp_path: Path) -> None:
    found = held(log(tmp_path / "a.csv", "Heater [W],Load W"), {"column:Load W": "none"})
    assert found["Heater [W]"] == ("heater_power", "W")


def test_a_heater_told_by_hand_is_told_by_its_unit(tmp_path: Path) -> None:
    found = held(log(tmp_path / "a.csv", "Block A [V],Heater [A]"), {"column:Block A [V]": "heater"})
    assert found["Block A [V]"] == ("heater_voltage", "V")


@pytest.mark.parametrize("names", [("a.csv",), ("a.csv", "b.csv")])
@pytest.mark.parametrize(
    ("value", "found"),
    [("hot_temperature", "a unit of voltage"), ("heter", "heter")],
)
def test_the_value_is_named_and_not_the_column(
    tmp_path: Path, names: tuple[str, ...], value: str, found: str
) -> None:
    (tmp_path / "bench").mkdir()
    for name in names:
        log(tmp_path / "bench" / name, "Heater [V],Heater [A]")
    folder.make(tmp_path / "lab", template("Heat"))
    with Lab(tmp_path / "lab") as lab, pytest.raises(StillroomError) as caught:
        bring_in(lab, [tmp_path / "bench"], {"column:Heater [V]": value, "fan": "Moss"}).refuse_bad()
    words = caught.value.sentence()
    assert value in words
    assert found in words
    assert "heater_voltage, voltage" in words
    assert "no such column" not in words


def test_a_heater_in_another_unit_says_how_to_tell_it(tmp_path: Path) -> None:
    with pytest.raises(StillroomError, match="--as 'column:Heater"):
        held(log(tmp_path / "a.csv", "Heater [°C],Load [A]"), {})
