"""The numbers of the open data are the reduced ones: standings, curves, points, levels, steps, resistances."""

from __future__ import annotations

import csv
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from stillroom.core.characteristic import Part
from stillroom.core.intervals import coverage_interval
from stillroom.lab.control.loading import load_control
from stillroom.lab.curves import load_fan, load_obstacle, result_of
from stillroom.lab.executor import silent
from stillroom.lab.heat.loading import load_heat
from stillroom.lab.sound.loading import load_sound
from stillroom.measures import Condition
from stillroom.measures.value import curve_in
from stillroom.publish.contents import Contents
from stillroom.publish.data.writing import write_open_data

Rows = list[dict[str, str]]
HOUR, MINUTE = 3600.0, 60.0


@pytest.fixture(scope="module")
def package(gathered: Contents, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("numbers")
    write_open_data(gathered, folder, silent)
    return folder


def rows(folder: Path, table: str) -> Rows:
    with (folder / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def same(cell: str, value: float | None, digits: int = 6) -> bool:
    """Whether a cell is a number to so many significant digits; empty where there is none."""
    return cell == "" if value is None else float(cell) == float(f"{value:.{digits - 1}e}")


def test_standings_are_all_that_is_published(gathered: Contents, package: Path) -> None:
    found = Counter(each["slug"] for each in rows(package, "standings"))
    for one in gathered.published:
        gone = [each for each in one.ranking.excluded if each.measured]
        assert found[one.slug] == len(one.ranking.standings) + len(gone)
    assert [each["slug"] for each in rows(package, "measures")] == [each.slug for each in gathered.published]
    assert {each["unit"] for each in rows(package, "measures")} == {
        each.ranking.unit for each in gathered.published
    }


def test_points_are_every_reading_of_the_mountings(gathered: Contents, package: Path) -> None:
    by_run: dict[str, Rows] = {}
    for each in rows(package, "points"):
        by_run.setdefault(each["run"], []).append(each)
    seen = 0
    for node in gathered.whole.graph.mountings():
        result = result_of(gathered.lab, node)
        used: list[bool] = []
        for run in result.body["runs"]:
            told = by_run[run["run"]]
            used += [each["used"] == "true" for each in told]
            assert [each["point"] for each in told] == [str(at + 1) for at in range(run["points"])]
            for row, flow, pressure, own in zip(
                told, run["flow"], run["pressure"], run["own_flow"], strict=True
            ):
                assert same(row["flow"], flow * HOUR)
                assert same(row["pressure"], pressure)
                assert same(row["u_flow"], own * HOUR, 3)
            seen += 1
        curve = load_fan(gathered.lab.path, result).characteristic
        held = {each.index for each in curve.held}
        assert used.count(False) >= len(held)
        assert all(not used[each] for each in held)
    assert seen == len(by_run)


def test_curves_are_those_that_measures_are_taken_from(gathered: Contents, package: Path) -> None:
    """Held against the curve at 440 places by which measures are taken; between its places on straight lines."""
    by_curve: dict[str, Rows] = {}
    for each in rows(package, "curves"):
        by_curve.setdefault(each["curve"], []).append(each)
    node = gathered.whole.graph.mountings()[0]
    fan = load_fan(gathered.lab.path, result_of(gathered.lab, node))
    sources = fan.characteristic.sources
    for told in fan.settings[0].values:
        whole = curve_in(fan, Condition(duty=float(told)), Part.TOTAL, sources)
        low, high = coverage_interval(whole.pressure[1 + len(sources) :], axis=0)
        shown = by_curve[f"{node.subject} at {told * 100:.4g} %"]
        flow = np.array([float(each["flow"]) for each in shown]) / HOUR
        scale = float(whole.pressure[0].max())
        for name, values in (("pressure", whole.pressure[0]), ("pressure_low", low), ("pressure_high", high)):
            there = np.interp(flow, whole.flow[0], values)
            np.testing.assert_allclose([float(each[name]) for each in shown], there, atol=2e-3 * scale)
        speeds = np.interp(flow, whole.flow[0], whole.speed[0]) * MINUTE
        np.testing.assert_allclose([float(each["speed"]) for each in shown], speeds, rtol=1e-4)
        power = np.interp(flow, whole.flow[0], whole.power(Part.TOTAL, sources)[0])
        np.testing.assert_allclose([float(each["power"]) for each in shown], power, rtol=2e-3)
        reach = fan.characteristic.reach
        phi = np.interp(flow[[0, -1]], whole.flow[0], whole.phi)
        assert reach[0] * 0.99 <= phi[0]
        assert reach[1] * 0.99 <= phi[1] <= reach[1] * 1.01


def test_every_tested_setting_has_its_curve(gathered: Contents, package: Path) -> None:
    found = {each["curve"] for each in rows(package, "curves")}
    expected = 0
    for node in gathered.whole.graph.mountings():
        fan = load_fan(gathered.lab.path, result_of(gathered.lab, node))
        expected += sum(len(each.values) for each in fan.settings) or 1
    assert len(found) == expected


def test_levels_are_the_dwells(gathered: Contents, package: Path) -> None:
    told = rows(package, "levels")
    for node in gathered.whole.graph.sounding():
        sound = load_sound(gathered.lab.path, result_of(gathered.lab, node))
        own = [each for each in told if each["mounting"] == node.subject]
        assert len(own) == len(sound.dwells)
        for row, each in zip(own, sound.dwells, strict=True):
            assert same(row["level"], each.level, 4)
            assert same(row["speed"], each.speed * MINUTE)
            assert row["is_bound"] == str(each.is_bound).lower()
        curve = [each for each in rows(package, "level-curves") if each["mounting"] == node.subject]
        at = np.array([float(each["speed"]) for each in curve]) / MINUTE
        central = np.interp(at, sound.levels.speeds, sound.levels.central)
        np.testing.assert_allclose([float(each["level"]) for each in curve], central, atol=0.01)
        assert all(float(each["level_low"]) <= float(each["level_high"]) for each in curve)


def test_heat_steps_are_the_steps_and_no_unsteady_one_is_a_result(gathered: Contents, package: Path) -> None:
    told = rows(package, "heat-steps")
    for node in gathered.whole.graph.heating():
        heat = load_heat(gathered.lab.path, result_of(gathered.lab, node))
        own = [each for each in told if each["mounting"] == node.subject]
        assert len(own) == len(heat.steps)
        for row, step in zip(own, heat.steps, strict=True):
            assert same(row["rise"], step.delta_nominal if step.is_result else None, 5)
            assert same(row["air_in"], step.air - 273.15, 5)
            assert same(row["u_rise"], step.u_own if step.is_result else None, 3)


def test_control_tells_between_which_settings_a_fan_starts(gathered: Contents, package: Path) -> None:
    told = {(each["mounting"], each["drive"]): each for each in rows(package, "control")}
    for node in gathered.whole.graph.controlled():
        found = load_control(gathered.lab.path, result_of(gathered.lab, node))
        for drive in found.drives.values():
            row, factor = told[node.subject, drive.kind], 100.0 if drive.kind == "duty" else 1.0
            ends = (drive.start.low, drive.start.high) if drive.start else (None, None)
            for name, end in zip(("start_above", "start_at"), ends, strict=True):
                assert same(row[name], None if end is None else end * factor)
            steps = [each for each in rows(package, "responses")
                     if each["mounting"] == node.subject and each["drive"] == drive.kind]  # fmt: skip
            assert len(steps) == sum(len(each.speeds) for each in (drive.up, drive.down) if each is not None)


def test_obstacles_give_the_drop_that_operating_points_are_found_on(
    gathered: Contents, package: Path
) -> None:
    told = {each["name"]: each for each in rows(package, "obstacles")}
    for node in (each for each in gathered.whole.graph.curves if each.kind == "obstacle"):
        obstacle, row = load_obstacle(gathered.lab.path, result_of(gathered.lab, node)), told[node.subject]
        flow = np.linspace(*(float(row[each]) / HOUR for each in ("flow_from", "flow_to")), 7)
        drop = float(row["a"]) * flow + float(row["b"]) * flow**2
        np.testing.assert_allclose(drop, obstacle.drop(flow, Part.CENTRAL, ())[0], rtol=1e-5)
        assert -1.0 <= float(row["correlation"]) <= 1.0
        rows_ = obstacle.drop(flow, Part.TOTAL, obstacle.sources)[1 + len(obstacle.sources) :]
        u_a, u_b, r = (float(row[each]) for each in ("u_a", "u_b", "correlation"))
        u = np.sqrt((u_a * flow) ** 2 + (u_b * flow**2) ** 2 + 2 * r * u_a * u_b * flow**3)
        np.testing.assert_allclose(u, rows_.std(axis=0, ddof=1), rtol=0.02)


def test_claims_hold_what_was_measured_and_the_verdict(gathered: Contents, package: Path) -> None:
    told = rows(package, "claims")
    assert [each["words"] for each in told] == [each.words for each in gathered.claims]
    assert [each["verdict"] for each in told] == [each.verdict.value for each in gathered.claims]


def test_decisions_stand_with_reason_and_name(gathered: Contents, package: Path) -> None:
    for table, decisions in (("accepted", gathered.accepted), ("exclusions", gathered.excluded)):
        told = {each["finding"]: each for each in rows(package, table)}
        assert told.keys() == {each.finding for each in decisions}
        for each in decisions:
            row = told[each.finding]
            assert (row["reason"], row["by"], row["rule"]) == (each.reason, each.by, each.rule)
    by_maker = rows(package, "exclusions-by-maker")
    assert sum(int(each["runs"]) for each in by_maker) > 0
    assert {each["maker"] for each in by_maker} >= {
        each.maker for each in gathered.book.fans.values() if each.maker
    }
