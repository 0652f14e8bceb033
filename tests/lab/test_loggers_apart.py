"""Loggers of one run that have no hour in common, or that read one channel otherwise: said, never passed over."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from heat_bench import TWO, HeatBench, channels, reduced

from stillroom.core.heat.heat_mounting import HeatMounting
from stillroom.lab.book import open_book
from stillroom.lab.curves import result_of
from stillroom.lab.findings import findings
from stillroom.lab.heat.loading import load_heat

HOT = "t hot [°C]"
TEMPERATURES = (HOT, "air in [°C]")
POWER = ("heater volts [V]", "heater amps [A]")
OF = {"fan": "Moss", "sample": "s1", "mounting": "m1", "session": "one"}


def worked_out(bench: HeatBench) -> tuple[HeatMounting, list[str]]:
    """The heat of the only mounting, and what findings say."""
    bench.finish()
    with bench.lab() as lab:
        graph = reduced(lab)
        (node,) = graph.heats
        found = findings(lab, open_book(lab), graph)
        return load_heat(lab.path, result_of(lab, node)), [each.found for each in found if each.rule == 52]


@pytest.mark.parametrize(
    ("start", "side"), [("2026-03-04T09:00:00", "after"), ("2026-03-02T09:00:00", "before")]
)
def test_a_logger_of_another_day_is_said(tmp_path: Path, start: str, side: str) -> None:
    bench, told = HeatBench(tmp_path), channels(TWO)
    bench.log("t.csv", told, "2026-03-03T09:00:00", TEMPERATURES, logger="t", **OF)
    bench.log("p.csv", told, start, POWER, logger="p", clock_offset=0, **OF)
    _, found = worked_out(bench)
    assert any(f"or more {side} those of the hot probe" in each for each in found)


def test_two_loggers_that_read_one_channel_otherwise(tmp_path: Path) -> None:
    bench, told = HeatBench(tmp_path), channels(TWO)
    bench.log("a.csv", told, "2026-03-03T09:00:00", logger="a", **OF)
    bench.log("b.csv", told | {HOT: told[HOT] + 5.0}, "2026-03-03T09:00:00", logger="b", clock_offset=0, **OF)
    heat, _ = worked_out(bench)
    assert "hot temperature of b differs: a's taken" in heat.marks
    assert heat.steps[0].delta_nominal == pytest.approx(TWO[0].rise, abs=0.05)


def test_two_files_of_one_clock_that_read_one_channel_otherwise(tmp_path: Path) -> None:
    bench, told = HeatBench(tmp_path), channels(TWO)
    bench.log("a.csv", told, "2026-03-03T09:00:00", logger="a", **OF)
    bench.log("b.csv", told | {HOT: told[HOT] + 5.0}, "2026-03-03T09:00:00", logger="a", **OF)
    heat, _ = worked_out(bench)
    assert any("hot temperature differs in" in each and "read it at once" in each for each in heat.marks)


def test_a_copy_with_the_same_readings_says_nothing(tmp_path: Path) -> None:
    bench, told = HeatBench(tmp_path), channels(TWO)
    bench.log("a.csv", told, "2026-03-03T09:00:00", logger="a", **OF)
    copied = told | {HOT: told[HOT] + np.where(np.arange(800) % 2 == 0, 0.001, -0.001)}
    bench.log("b.csv", copied, "2026-03-03T09:00:00", logger="a", **OF)
    heat, _ = worked_out(bench)
    assert not any("differ" in each for each in heat.marks)


def test_loggers_35_s_apart_are_put_together_by_the_bend_of_the_hot_probe(tmp_path: Path) -> None:
    """Read every 4 s; the heat goes on 400 s after the loggers, so that the probe's bend is in the record."""
    bench, told = HeatBench(tmp_path), channels(TWO)
    before = 100
    cold = {name: np.concatenate([np.full(before, values[0]), values]) for name, values in told.items()}
    noise = np.random.default_rng(3).normal(0.0, 0.03, before)
    cold[HOT][:before] = 22.0 + noise
    cold["heater amps [A]"][:before] = 0.0
    cold["time"] = np.arange(len(cold[HOT])) * 4.0
    bench.log("t.csv", cold, "2026-03-03T09:00:00", TEMPERATURES, logger="t", **OF)
    bench.log("p.csv", cold, "2026-03-03T09:00:35", POWER, logger="p", **OF)
    heat, found = worked_out(bench)
    (clock,) = [each for each in heat.clocks if each["logger"] == "p"]
    assert clock["how"] == "shared edge"
    assert clock["offset"] == pytest.approx(-35.0, abs=2.0 * clock["u"])
    assert 3.0 < clock["u"] < 10.0
    assert any("s ahead; put right by a change that both saw, within" in each for each in found)
    assert not any("not aligned" in each for each in heat.marks)
