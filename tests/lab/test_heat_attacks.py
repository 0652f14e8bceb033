"""Heat logs that can't be worked out as they stand: each says what is wrong, and no number comes of it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
from heat_bench import TWO, HeatBench, channels, reduced

from stillroom.errors import BadInput, StillroomError
from stillroom.lab.book import open_book
from stillroom.lab.curves import result_of
from stillroom.lab.findings import findings
from stillroom.lab.heat.loading import load_heat
from stillroom.lab.intake.intake import bring_in
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

HOT, AIR, VOLTS, AMPS = "t hot [°C]", "air in [°C]", "heater volts [V]", "heater amps [A]"


def why_not(base: Path, changed: Mapping[str, np.ndarray]) -> str:
    """Why the heat of a run with some channels changed could not be worked out."""
    bench = HeatBench(base)
    bench.log("a.csv", channels(TWO) | dict(changed), "2026-03-03T09:00:00", fan="Moss", sample="s1")
    bench.finish()
    with bench.lab() as lab:
        graph = reduced(lab)
        (node,) = graph.heats
        with pytest.raises(StillroomError) as caught:
            load_heat(lab.path, result_of(lab, node))
        found = [each for each in findings(lab, open_book(lab), graph) if each.rule == 34]
        assert "exchanged" in found[0].cause
        return caught.value.sentence()


def test_a_heater_that_is_off_is_said(tmp_path: Path) -> None:
    words = why_not(tmp_path, {VOLTS: np.zeros(800), AMPS: np.zeros(800)})
    assert "found 0 W from the heater" in words


def test_volts_in_another_unit_give_no_rise_of_thousands_of_kelvin(tmp_path: Path) -> None:
    words = why_not(tmp_path, {VOLTS: np.full(800, 0.06)})
    assert "0.297 W from the heater" in words
    assert "nominal 300 W" in words


def test_exchanged_probes_are_said(tmp_path: Path) -> None:
    good = channels(TWO)
    words = why_not(tmp_path, {HOT: good[AIR], AIR: good[HOT]})
    assert "under the air" in words
    assert "exchanged" in words


def test_a_step_that_fails_is_named_by_its_time(tmp_path: Path) -> None:
    words = why_not(tmp_path, {HOT: np.full(800, np.nan)})
    assert "0 to 27 min: " in words
    assert "27 to 53 min: " in words


def test_watts_against_volts_and_amps_are_marked(tmp_path: Path) -> None:
    bench = HeatBench(tmp_path)
    told = channels(TWO) | {"heater power [W]": np.full(800, 150.0)}
    bench.log("a.csv", told, "2026-03-03T09:00:00", fan="Moss", sample="s1")
    bench.finish()
    with bench.lab() as lab:
        (node,) = reduced(lab).heats
        heat = load_heat(lab.path, result_of(lab, node))
        assert all("watts read 150 W, volts and amps 297 W" in " ".join(each.marks) for each in heat.steps)
        assert heat.steps[0].delta_nominal == pytest.approx(TWO[0].rise, abs=0.05)


def test_signs_that_steer_a_terminal_are_shown_as_escapes(tmp_path: Path) -> None:
    path = tmp_path / "Moss s1.csv"
    lines = [f"2026-03-03 09:00:{i:02d},{30 + 0.1 * i:.1f},22.0,31.0" for i in range(60)]
    path.write_text("\n".join(["time,t hot [°C],air in [°C],foo\x1b[31m [°C]", *lines]) + "\n")
    folder.make(tmp_path / "lab", template("Heat"))
    with Lab(tmp_path / "lab") as lab:
        added = bring_in(lab, [path], {"fan": "Moss", "sample": "s1"})
    assert any("foo\\x1b[31m" in each for each in added.marks)
    assert not any("\x1b" in each for each in added.marks)


@pytest.mark.parametrize("step", ["99999999999999999999", "1e300", "-99999999999999999999"])
def test_a_number_of_a_step_that_nothing_counts_to(tmp_path: Path, step: str) -> None:
    table = tmp_path / "steps.csv"
    table.write_text(f"mounting,step,duty [%]\nMoss-s1-h1,{step},60\n")
    folder.make(tmp_path / "lab", template("Heat"))
    with Lab(tmp_path / "lab") as lab, pytest.raises(BadInput, match="whole number of at most"):
        bring_in(lab, [table], {})


@pytest.mark.parametrize(
    ("line", "part"),
    [
        ('nominal_power = "0 W"', "nominal_power"),
        ("nominal_power = nan", "nominal_power"),
        ("fans = 0", "fans"),
        ('kind = "heat"', "overwrite"),
    ],
)
def test_a_rig_that_cannot_be_is_bad_and_not_left_out(tmp_path: Path, line: str, part: str) -> None:
    (tmp_path / "bench").mkdir()
    (tmp_path / "bench/heat.toml").write_text(f'[rig.heat-1]\nkind = "heat"\n{line}\n')
    folder.make(tmp_path / "lab", template("Heat"))
    with Lab(tmp_path / "lab") as lab, pytest.raises(StillroomError, match=part):
        bring_in(lab, [tmp_path / "bench"], {})


def test_settings_of_something_else_are_left_out(tmp_path: Path) -> None:
    (tmp_path / "bench").mkdir()
    (tmp_path / "bench/other.toml").write_text('[tool.other]\nname = "x"\n')
    folder.make(tmp_path / "lab", template("Heat"))
    with Lab(tmp_path / "lab") as lab:
        added = bring_in(lab, [tmp_path / "bench"], {})
    assert not added.bad
