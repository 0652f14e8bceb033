"""The invented heat rig: its physics against closed forms and other solvers, its files against its truth."""

from __future__ import annotations

import csv
import math
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from ht import effectiveness_from_NTU
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from stillroom.demo.catalogue import fans, obstacles
from stillroom.demo.fan import Obstacle
from stillroom.demo.heat.loop import (
    AIR_HEAT,
    BLOCK_CAPACITY,
    LIQUID_CAPACITY,
    LOSS,
    PUMP,
    USUAL_AIR,
    Loop,
    operating,
)
from stillroom.demo.heat.plan import LIMITS
from stillroom.demo.heat.playing import DAY_SD, MOUNTING_SD
from stillroom.demo.heat.probes import AIRS, PROBES
from stillroom.demo.heat.sessions import full_plan, quick_plan
from stillroom.demo.heat.truth import HeatRunTruth, HeatTruth
from stillroom.demo.heat.wander import correlated, normals
from stillroom.demo.truth import Truth
from stillroom.demo.write import SEED, write_exports

Array = NDArray[np.float64]
Made = tuple[Path, Truth]

LOCAL = {
    "Heißfühler": "hot_temperature", "Vorlauf": "liquid_in_temperature", "Rücklauf": "liquid_out_temperature",
    "Zuluft 1": AIRS[0], "Zuluft 2": AIRS[1], "Zuluft 3": AIRS[2], "t_hot": "hot_temperature",
    "liquid in": "liquid_in_temperature", "liquid out": "liquid_out_temperature", "air in 1": AIRS[0],
    "air in 2": AIRS[1], "air in 3": AIRS[2],
}  # fmt: skip


def plain_loop() -> Loop:
    return Loop(Obstacle("r", "1", "radiator", "", 0.12, 306.0, 14900.0), 2)


@pytest.fixture(scope="module")
def heated(tmp_path_factory: pytest.TempPathFactory) -> Made:
    folder = tmp_path_factory.mktemp("heated") / "files"
    return folder, write_exports(folder, heat=True, control=True)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Made:
    folder = tmp_path_factory.mktemp("whole-heat") / "files"
    return folder, write_exports(folder, full=True, heat=True, control=True)


def heat_of(made: Made) -> HeatTruth:
    assert made[1].heat is not None
    return made[1].heat


def log_of(folder: Path, run: HeatRunTruth) -> tuple[Array, dict[str, Array]]:
    """Times since the run's start [s] and channels as they stand in its files: temperatures in °C."""
    start = datetime.fromisoformat(run.start)
    found: dict[str, Array] = {}
    times = np.empty(0)
    for file in run.files:
        if file.endswith("room.txt"):
            continue
        text = (folder / file).read_text(encoding="cp1252" if file.endswith("temp.csv") else "utf-8")
        local = file.endswith("temp.csv")
        rows = list(csv.reader(text.splitlines(), delimiter=";" if local else ","))
        names = [each.partition(" [")[0] for each in rows[0]]
        body = rows[2:] if local else rows[1:]
        first = 2 if local else 1
        for i, name in enumerate(names[first:], start=first):
            found[LOCAL.get(name, name)] = np.array([float(row[i].replace(",", ".")) for row in body])
        if local:
            stamps = [datetime.strptime(f"{row[0]} {row[1]}", "%d.%m.%Y %H:%M:%S") for row in body]
        elif file.endswith("all.csv"):
            stamps = [datetime.fromisoformat(row[0]) for row in body]
        else:
            continue
        times = np.array([(each - start).total_seconds() for each in stamps])
    return times, found


def rises(folder: Path, truth: HeatTruth, run: HeatRunTruth) -> list[float]:
    """ΔT at nominal power over the last 1.5 τ of each setting, the probes' hidden offsets taken out [K]."""
    times, read = log_of(folder, run)
    hot = read["hot_temperature"] - truth.offsets["hot_temperature"]
    air = sum(read[each] - truth.offsets[each] for each in AIRS) / 3
    power = read["heater volts"] * read["heater amps"]
    found = []
    for step in run.steps:
        late = (times > step.last - 1.5 * step.tau) & (times < step.last)
        found.append(float(np.mean((hot - air)[late]) * truth.nominal / np.mean(power[late])))
    return found


# --- physics -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("hour", "rise"), [(20, 24.8), (30, 17.8), (40, 14.3), (60, 10.9), (80, 9.1), (100, 8.1)]
)
def test_the_radiator_is_as_the_rig_was_specified(hour: float, rise: float) -> None:
    """Liquid over air in at 300 W on two tiles, at an airflow per tile [m³/h]: the rig's own specification."""
    assert 300 / plain_loop().conductance(hour / 3600, 1.2) == pytest.approx(rise, abs=0.25)


@pytest.mark.parametrize("hour", [15.0, 40.0, 70.0, 110.0])
def test_effectiveness_agrees_with_a_reference_library(hour: float) -> None:
    """`ht` 's cross-flow exchanger with both sides unmixed, its exact solution; the usual formula is within 1.2 %."""
    loop = plain_loop()
    rates = 2 * hour / 3600 * 1.2 * AIR_HEAT, loop.liquid_rate
    ua = 2 / (1 / (34 * (hour / 60) ** 0.52) + 0.004)
    exact = effectiveness_from_NTU(ua / min(rates), min(rates) / max(rates), subtype="crossflow")
    assert loop.conductance(hour / 3600, 1.2) == pytest.approx(exact * min(rates), rel=0.012)


def test_the_loop_settles_as_another_solver_says() -> None:
    """Two nodes, written down once more, by scipy's solve_ivp; a step of the fan in the middle."""
    loop, dt = plain_loop(), 4.0
    times = np.arange(0.0, 2400.0, dt)
    k = np.where(times < 1200, loop.conductance(30 / 3600, 1.16), loop.conductance(60 / 3600, 1.16))
    block, liquid = loop.settle((298.0, 298.0), np.full_like(times, 300.0), np.full_like(times, 295.0), k, dt)

    def rates(at: float, state: Array) -> list[float]:
        radiator = k[min(int(at / dt), len(k) - 1)]
        through = (state[0] - state[1]) / loop.block
        return [
            (300 - LOSS * (state[0] - 295) - through) / BLOCK_CAPACITY,
            (through + PUMP - radiator * (state[1] - 295)) / LIQUID_CAPACITY,
        ]

    solved = solve_ivp(rates, (0.0, 2396.0), [298.0, 298.0], t_eval=times, rtol=1e-9, atol=1e-9, max_step=4.0)
    assert block == pytest.approx(solved.y[0], abs=2e-3)
    assert liquid == pytest.approx(solved.y[1], abs=2e-3)


def test_it_ends_at_its_settled_rise_with_one_time_constant() -> None:
    loop = plain_loop()
    k = loop.conductance(50 / 3600, 1.16)
    times = np.arange(0.0, 9000.0, 4.0)
    block, _ = loop.settle(
        (295.0, 295.0), np.full_like(times, 300.0), np.full_like(times, 295.0), np.full_like(times, k), 4.0
    )
    rest = loop.rise(300.0, 50 / 3600, 1.16) + 295.0 - block
    assert rest[-1] == pytest.approx(0.0, abs=1e-6)
    late = (times > 300) & (times < 1200)
    slope = np.polyfit(times[late], np.log(rest[late]), 1)[0]
    assert -1 / slope == pytest.approx(loop.tau(k), rel=2e-3)
    assert 5000 <= BLOCK_CAPACITY + LIQUID_CAPACITY <= 7000


def test_noise_remembers_as_it_should() -> None:
    """AR(1): the correlation after a lag is exp(−lag/memory), by its definition."""
    white = normals(3, "w", 40_000)
    assert (np.mean(white), np.std(white)) == pytest.approx((0.0, 1.0), abs=0.015)
    noise = correlated(3, "c", 40_000, 4.0, 9.0)
    assert np.std(noise) == pytest.approx(1.0, abs=0.03)
    for lag in (1, 2, 4):
        r = float(np.mean(noise[lag:] * noise[:-lag]))
        assert r == pytest.approx(math.exp(-4.0 * lag / 9.0), abs=0.03)


def test_a_fan_meets_the_radiator_where_both_agree() -> None:
    known = obstacles(SEED, full=False)
    fan, radiator = fans(SEED, known, full=False)[0], known[1]
    flow, speed = operating(fan, radiator, 25.0, USUAL_AIR, held=True)
    assert speed == 25.0
    q = flow / fan.flow(1.0, speed)
    assert fan.pressure(q, speed, USUAL_AIR.density) == pytest.approx(
        radiator.drop(flow, USUAL_AIR), rel=1e-6
    )


# --- files -------------------------------------------------------------------------------------------------


def test_settled_rises_in_the_files_are_the_truths(whole: Made) -> None:
    """All settings that were held long enough, in runs without a fault: to some hundredths of a kelvin."""
    truth = heat_of(whole)
    wrong = {each.mounting for each in whole[1].faults}
    away = []
    for run in truth.runs:
        if run.mounting not in wrong:
            found = rises(whole[0], truth, run)
            away += [one - step.delta for one, step in zip(found, run.steps, strict=True)]
    assert len(away) > 75
    assert abs(float(np.mean(away))) < 0.015
    assert max(abs(each) for each in away) < 0.08
    assert float(np.std(away)) < 0.04


def test_repeated_runs_scatter_as_they_should(whole: Made) -> None:
    """Days and mountings move a rise by their spread; between runs of a fan nothing else but the paste does."""
    truth, plan = heat_of(whole), full_plan(faults=True)
    by_fan: dict[tuple[str, str], list[float]] = {}
    for run in truth.runs:
        renewed = 300 * 0.0012 if run.day >= plan.paste_day else 0.0
        low = plan.flow.get(run.day, 0.0) > 0.02
        for step in run.steps[:1] if not low else ():
            by_fan.setdefault((run.fan, run.sample), []).append(step.delta + renewed)
    spreads = [np.var(each, ddof=1) for each in by_fan.values() if len(each) > 1]
    weights = [len(each) - 1 for each in by_fan.values() if len(each) > 1]
    assert sum(weights) >= 20
    pooled = math.sqrt(float(np.average(spreads, weights=weights)))
    assert 0.6 * math.hypot(MOUNTING_SD, DAY_SD) < pooled < 2.0 * math.hypot(MOUNTING_SD, DAY_SD)


def test_the_bath_tells_the_offsets(heated: Made) -> None:
    folder, truth = heated[0], heat_of(heated)
    (file,) = folder.glob("exports/heat-rig/*bath*")
    rows = list(csv.reader(file.read_text(encoding="cp1252").splitlines(), delimiter=";"))
    means = {
        LOCAL[name]: np.mean([float(row[i].replace(",", ".")) for row in rows[2:]])
        for i, name in enumerate(rows[0]) if name in LOCAL
    }  # fmt: skip
    for probe in PROBES[1:]:
        told = means[probe] - means[PROBES[0]]
        assert told == pytest.approx(truth.offsets[probe] - truth.offsets[PROBES[0]], abs=0.04)


def test_clocks_are_near_each_other_where_nothing_is_wrong(heated: Made) -> None:
    folder, truth = heated[0], heat_of(heated)
    for run in truth.runs:
        powers = [each for each in run.files if each.endswith("power.csv")]
        told = {row["file"]: float(row["clock offset [s]"] or 0.0) for row in table(folder, "heat-runs.csv")}
        for file in powers:
            first = (folder / file).read_text(encoding="utf-8").splitlines()[1].partition(",")[0]
            start = datetime.fromisoformat(run.start).replace(tzinfo=UTC).timestamp()
            assert float(first) + told[file] == pytest.approx(start, abs=1.0)
    assert sorted(set(told.values())) == [0.0, 40.0]


def test_heat_balances_between_heater_and_liquid(heated: Made) -> None:
    folder, truth = heated[0], heat_of(heated)
    run = truth.run("Bilberry-s1-h2")
    times, read = log_of(folder, run)
    step = run.steps[1]
    late = (times > step.last - 1.5 * step.tau) & (times < step.last)
    drop = read["liquid_in_temperature"] - read["liquid_out_temperature"]
    drop = drop - truth.offsets["liquid_in_temperature"] + truth.offsets["liquid_out_temperature"]
    liquid = np.mean(read["coolant flow"][late]) / 60e3 * 996.5 * 4180 * np.mean(drop[late])
    electric = np.mean((read["heater volts"] * read["heater amps"])[late])
    assert liquid / (electric + PUMP) == pytest.approx(1.0, abs=0.035)


def test_logs_stay_small_and_most_are_slow(whole: Made) -> None:
    files = list((whole[0] / "exports" / "heat-rig").iterdir())
    assert sum(each.stat().st_size for each in files) < 12e6
    for run in heat_of(whole).runs:
        assert sum((whole[0] / each).stat().st_size for each in run.files) < 2e6
    assert {each.interval for each in full_plan(faults=True).runs} == {1.0, 4.0}


def test_without_heat_nothing_of_it_is_written(lab: Made) -> None:
    assert lab[1].heat is None
    assert lab[1].control == ()
    assert not list(lab[0].glob("heat*"))
    assert not list(lab[0].glob("control*"))


# --- plan and truth ----------------------------------------------------------------------------------------


def test_the_whole_round_runs_fourteen_fans_and_checks_each_day(whole: Made) -> None:
    truth, reference = heat_of(whole), whole[1].reference_fan
    fans_run = {each.fan for each in truth.runs} - {reference}
    assert len(fans_run) == 14
    checks = [each for each in truth.runs if each.fan == reference]
    assert len(checks) >= 12
    for day in {each.day for each in truth.runs}:
        own = [each.fan for each in truth.runs if each.day == day]
        assert own[0] == own[-1] == reference
    wrong = {
        each.mounting for each in whole[1].faults if each.name not in {"door opened", "logger clock off"}
    }
    for fan in fans_run:
        assert any(each.fan == fan and each.mounting not in wrong for each in truth.runs), fan
    for fan in ("Bracken", "Tormentil", "Bilberry", "Asphodel", "Sedge"):
        assert sum(each.fan == fan and each.mounting not in wrong for each in truth.runs) >= 2, fan


def test_each_fan_is_run_at_its_levels_or_tops_out(whole: Made) -> None:
    truth = heat_of(whole)
    for run in truth.runs:
        if run.fan == whole[1].reference_fan:
            continue
        told = [step.noise for step in run.steps if step.noise is not None]
        tops = [step for step in run.steps if step.noise is None]
        assert set(told) <= set(LIMITS)
        for limit in LIMITS:
            reached = truth.delta(run.fan, f"{limit:g} dBA", "s1").reached
            assert (limit in told) == (reached == "at limit")
            assert bool(tops) or reached != "tops out"


def test_no_run_overlaps_another_and_days_end(whole: Made) -> None:
    ends: dict[str, datetime] = {}
    for run in heat_of(whole).runs:
        start = datetime.fromisoformat(run.start)
        day = run.start[:10]
        assert start > ends.get(day, datetime.min)
        end = start.timestamp() + run.steps[-1].last
        ends[day] = datetime.fromtimestamp(end, UTC).replace(tzinfo=None)
    assert all(each.hour < 20 for each in ends.values())


def test_truth_knows_ties_and_a_gap_of_a_kelvin(whole: Made) -> None:
    truth = heat_of(whole)
    for condition, one, other in truth.tie:
        assert abs(truth.delta(one, condition).delta - truth.delta(other, condition).delta) < 0.12
    for condition, cooler, warmer in truth.gap:
        assert 0.8 <= truth.delta(warmer, condition).delta - truth.delta(cooler, condition).delta < 1.3
    assert any(each[0] == "35 dBA" for each in truth.tie)
    assert any(each[0] == "35 dBA" for each in truth.gap)


def test_models_fall_with_flow_and_noise(heated: Made) -> None:
    truth = heat_of(heated)
    for fan in {each.fan for each in truth.deltas}:
        found = [truth.delta(fan, f"{limit:g} dBA") for limit in LIMITS]
        assert [each.flow for each in found] == sorted(each.flow for each in found)
        assert [each.delta for each in found] == sorted((each.delta for each in found), reverse=True)
        assert all(each.conductance * each.delta == pytest.approx(300.0) for each in found)


# --- faults ------------------------------------------------------------------------------------------------


def test_the_run_that_was_cut_ends_warm(heated: Made) -> None:
    truth = heat_of(heated)
    run = truth.run("Sundew-s1-h1")
    last = run.steps[-1]
    assert last.span == pytest.approx(1.5, abs=0.03)
    times, read = log_of(heated[0], run)
    rise = read["hot_temperature"] - sum(read[each] for each in AIRS) / 3
    end = float(np.mean(rise[times > last.last - 20]))
    assert 0.15 < end - last.delta < 0.6, "of a fall of about 1 K a fifth is left"


def test_an_air_probe_in_the_warmed_air_reads_high(heated: Made) -> None:
    truth = heat_of(heated)
    _, read = log_of(heated[0], truth.run("Sedge-s1-h1"))
    late = slice(len(read[AIRS[0]]) // 2, None)
    spread = np.mean(read[AIRS[1]][late]) - np.mean(read[AIRS[0]][late])
    assert spread > 1.5


def test_a_door_lets_cold_air_in_for_a_minute(heated: Made) -> None:
    truth = heat_of(heated)
    run = truth.run("Bracken-s1-h2")
    times, read = log_of(heated[0], run)
    air = read[AIRS[0]]
    cold = times[air < np.median(air) - 0.8]
    assert 30 < cold[-1] - cold[0] < 120
    assert run.steps[0].first < cold[0] < cold[-1] < run.steps[0].last


def test_the_whole_rounds_faults_are_in_its_files(whole: Made) -> None:
    folder, truth = whole[0], heat_of(whole)
    by_name = {each.name: each for each in whole[1].faults}
    clock = truth.run(by_name["logger clock off"].mounting)
    first = (folder / clock.files[1]).read_text(encoding="utf-8").splitlines()[1].partition(",")[0]
    assert float(first) - datetime.fromisoformat(clock.start).replace(
        tzinfo=UTC
    ).timestamp() == pytest.approx(59.4)
    _, load = log_of(folder, truth.run(by_name["heater wanders"].mounting))
    watts = (load["heater volts"] * load["heater amps"])[100:]
    assert np.std(watts) / np.mean(watts) > 0.008
    _, sound = log_of(folder, truth.run("Bilberry-s1-h2"))
    watts = (sound["heater volts"] * sound["heater amps"])[100:]
    assert np.std(watts) / np.mean(watts) < 0.003
    pulses = by_name["wrong pulses on the heat rig"]
    _, read = log_of(folder, truth.run(pulses.mounting))
    assert read["fan speed"][50] / 60 == pytest.approx(
        2 * truth.run(pulses.mounting).steps[0].speed, rel=5e-3
    )
    low = [each for each in whole[1].faults if each.name == "coolant flow low"]
    for each in low:
        _, read = log_of(folder, truth.run(each.mounting))
        assert np.mean(read["coolant flow"]) < 0.97 * 1.5
    events = [row["text"] for row in table(folder, "events.csv") if row["rig"] == "heat-1"]
    assert any("topped up" in each for each in events)


def test_without_faults_nothing_is_wrong() -> None:
    for plan in (quick_plan(faults=False), full_plan(faults=False)):
        assert all(each == each.faultless() for each in plan.runs)
        assert not plan.flow


def table(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / name).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def test_a_plain_spreadsheet_is_misled(heated: Made) -> None:
    """By the probe in the warmed air and by the run that was cut: first and last of its ranking."""
    truth = heat_of(heated)
    assert [each.rank for each in truth.plain] == [1, 2, 3, 4, 5, 6]
    assert (truth.plain[0].fan, truth.plain[-1].fan) == ("Sedge", "Sundew")
    right = sorted(truth.plain, key=lambda each: truth.delta(each.fan, "35 dBA").delta)
    assert right[0].fan != "Sedge"
    assert right[-1].fan == "Tormentil"
