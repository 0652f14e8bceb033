"""Whether the exports hide what the truth says."""

import math
from datetime import datetime
from statistics import fmean, pstdev

import pytest
from inverted import Lab, known_samples, read_table, rows_of, true_state, undone

from stillroom.demo.catalogue import CONTENDERS, fans, obstacles
from stillroom.demo.exports import Sweep
from stillroom.demo.fan import crossings
from stillroom.demo.spreadsheet import plain_ranking
from stillroom.demo.sweeps import Row
from stillroom.demo.truth import FULL_SPEED
from stillroom.demo.write import SEED


def test_inverted_readings_lie_on_the_samples_curves(clean: Lab) -> None:
    folder, truth = clean
    known = known_samples()
    flows, pressures, differences = [], [], []
    for run in read_table(folder / "runs.csv"):
        if not run["fan"] or run["rig"] != "chamber":
            continue
        fan = known[run["fan"], run["sample"]]
        for row in rows_of(folder, run["file"]):
            flow, pressure, air = true_state(truth, row)
            speed = undone(truth, row, "speed")
            q = flow / fan.flow(1.0, speed)
            scale = fan.pressure(0.0, speed, air.density)
            differences.append(pressure - fan.pressure(q, speed, air.density))
            if scale > 10:
                pressures.append(differences[-1] / scale)
            if abs(pressure) < 0.02 * scale and q > 0.9:
                flows.append(q)
    assert len(differences) == 17 * 6 * 12
    # reading noise, the mounting's 0.4 % and the day's zero remain; no shift does
    assert fmean(flows) == pytest.approx(1.0, abs=0.003)
    assert pstdev(flows) < 0.009
    assert abs(fmean(differences)) < 0.05
    assert abs(fmean(pressures)) < 0.004
    assert pstdev(pressures) < 0.015


def test_inverted_obstacle_runs_give_the_obstacles_resistance(clean: Lab) -> None:
    folder, truth = clean
    for obstacle in obstacles(SEED, full=False):
        assert (obstacle.name, obstacle.a, obstacle.b) in truth.obstacles
        for row in rows_of(folder, f"exports/obstacles/{obstacle.name}-v1.csv"):
            drop = undone(truth, row, "resistance_pressure", gauge="static_pressure")
            as_fan = row | {"static_pressure": -drop}
            flow, _, air = true_state(truth, as_fan)
            assert drop == pytest.approx(obstacle.drop(flow, air), rel=0.04, abs=0.3)


def test_operating_points_lie_on_both_curves(lab: Lab) -> None:
    _, truth = lab
    resistance = {name: (a, b) for name, a, b in truth.obstacles}
    for each in truth.operating:
        a, b = resistance[each.obstacle]
        assert len(each.points) in (1, 3)
        for point in each.points:
            assert point.pressure == pytest.approx(a * point.flow + b * point.flow**2, rel=1e-9)
        if each.condition == "1500 rpm":
            curve = truth.fan(each.fan, each.sample)
            for point in each.points:
                i = max(k for k in range(200) if curve.flows[k] <= point.flow)
                share = (point.flow - curve.flows[i]) / (curve.flows[i + 1] - curve.flows[i])
                pressure = curve.pressures[i] + share * (curve.pressures[i + 1] - curve.pressures[i])
                assert point.pressure == pytest.approx(pressure, abs=0.02)


def test_loads_meet_a_falling_curve_stably() -> None:
    fan = fans(SEED, obstacles(SEED, full=False), full=False)[0]
    # by hand: at a flow q·k_q·n the load b Q² with b = p/Q² crosses there
    speed, q = 20.0, 0.7
    flow, pressure = fan.flow(q, speed), fan.pressure(q, speed)
    met = crossings(fan, lambda Q: pressure * (Q / flow) ** 2, free_speed=speed, sagging=False)
    assert [point.stable for point in met] == [True]
    assert met[0].flow == pytest.approx(flow, rel=1e-12)


@pytest.mark.parametrize("seed", [SEED, 1, 2, 5, 9])
def test_the_stalling_fan_meets_the_dense_radiator_three_times(seed: int) -> None:
    known = obstacles(seed, full=False)
    fan = next(each for each in fans(seed, known, full=False) if each.name == "Asphodel")
    dense = next(each for each in known if each.name == "dense")
    for speed, sagging in ((fan.full_speed, True), (25.0, False)):
        met = crossings(fan, dense.drop, free_speed=speed, sagging=sagging)
        assert [point.stable for point in met] == [True, False, True]


def test_not_unique_is_an_error_and_left_out_of_the_ranking(lab: Lab) -> None:
    _, truth = lab
    fan, obstacle = truth.stalling
    with pytest.raises(ValueError, match="3 times"):
        _ = truth.operating_point(fan, obstacle).flow
    assert fan not in dict(truth.ranking(obstacle))
    assert len(truth.ranking(truth.reference_obstacle)) == 6
    assert "Sundew" not in dict(truth.ranking("rad27", "1500 rpm")), "it doesn't reach that speed"
    with pytest.raises(LookupError):
        truth.operating_point("Sundew", "rad27", "1500 rpm")


def test_the_plain_ranking_puts_a_tie_first_and_fourth(lab: Lab) -> None:
    _, truth = lab
    flows = dict(truth.ranking(truth.reference_obstacle, FULL_SPEED))
    tied = [flows[name] for name in truth.near_tie]
    assert max(tied) / min(tied) < 1.015
    rows = truth.plain
    assert [row.rank for row in rows] == [1, 2, 3, 4, 5, 6]
    first, fourth = rows[0], rows[3]
    assert {first.fan, fourth.fan} <= set(truth.near_tie) == set(CONTENDERS)
    assert first.flow / fourth.flow > 1.02
    assert all(row.flow == pytest.approx(flows[row.fan], rel=0.08) for row in rows)


def test_plain_crossing_agrees_with_one_worked_by_hand() -> None:
    # N10 with 0.97: Q² = 0.97² A² 2Δp/1.2; Δp 60 and 240 Pa give Q and 2Q. Fan 8 → 2 Pa, load 0 → 4 → 8 Pa:
    # between them the lines cross where 8 − 6x = 4 + 4x, at 1.4 Q
    def sweep(quantity: str, first: float, second: float) -> Sweep:
        rows = [
            Row({quantity: p, "nozzle_pressure": dp}, "N10") for p, dp in ((first, 60.0), (second, 240.0))
        ]
        return Sweep(tuple(rows), (), None, datetime(2026, 3, 2))

    load = sweep("resistance_pressure", 4.0, 8.0)
    (row,) = plain_ranking({"F": ("f.csv", sweep("static_pressure", 8.0, 2.0))}, load)
    assert row.flow == pytest.approx(1.4 * 0.97 * math.pi * 0.01**2 / 4 * 10.0)


def test_the_nozzle_change_starts_from_the_certificate(lab: Lab) -> None:
    folder, truth = lab
    change = truth.nozzle_change
    text = (folder / "rigs.toml").read_text(encoding="utf-8")
    assert f'[nozzle.{change.nozzle}]\nbore = "{change.before * 1000:.3f} mm"' in text
    assert 1e-3 < change.after / change.before - 1 < 5e-3
    rows = rows_of(folder, "exports/Bracken/s1/m1/100pct.csv")
    assert sum(change.nozzle in str(row["nozzles"]) for row in rows) >= 5
