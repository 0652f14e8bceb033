"""Operating points and the objective points of a curve, against worked examples and closed forms."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from stillroom.core.operating import free_delivery, greatest_air_power, operating_points, shut_off_pressure
from stillroom.errors import BadInput, NotPossible

REFERENCE = json.loads((Path(__file__).parents[1] / "reference" / "operating_points.json").read_text())
FLOW = np.linspace(0.0, 0.06, 400)


def parabola(flow, shut_off=60.0, free=0.05):
    return shut_off * (1.0 - (flow / free) ** 2)


def test_worked_example_of_a_duct():
    """Fan table against a duct of roughness and fittings; friction by Colebrook's equation."""
    example = REFERENCE["worked_example"]
    cubic_foot, inch = 0.3048**3, 0.0254
    flow = np.linspace(0.0, 1200.0, 400) * cubic_foot / 60
    fan = PchipInterpolator(np.array(example["fan_cfm"]) * cubic_foot / 60, example["fan_inH2O"])(flow)
    diameter = example["D_in"] * inch
    velocity = np.maximum(flow, 1e-9) / (np.pi / 4 * diameter**2)
    reynolds = velocity * diameter / example["nu"]
    friction = np.full_like(flow, 0.02)
    for _ in range(50):
        root = example["eps_mm"] / 1000 / diameter / 3.7 + 2.51 / (reynolds * np.sqrt(friction))
        friction = (-2.0 * np.log10(root)) ** -2
    losses = example["alpha"] + friction * example["L_ft"] * 0.3048 / diameter + example["sumK"]
    head = losses * velocity**2 / (2 * 9.81) * example["rho"] / 998.0 / inch  # inches of water
    points = operating_points(flow, fan[None, :], head[None, :])
    found = points.flow[0] * 60 / cubic_foot
    assert found == pytest.approx(example["flow_cfm"], abs=example["flow_tolerance"])
    assert np.interp(points.flow[0], flow, fan) == pytest.approx(
        example["head_inH2O"], abs=example["head_tolerance"]
    )
    assert points.count[0] == 1
    assert points.central_stable.tolist() == [True]


@pytest.mark.parametrize(("shut_off", "free", "b"), [(60.0, 0.05, 12500.0), (35.0, 0.041, 9000.0)])
def test_parabola_on_parabola(shut_off, free, b):
    """P0 (1 − (Q/Qm)²) = b Q² at Q = √(P0/(b + P0/Qm²))."""
    points = operating_points(FLOW, parabola(FLOW, shut_off, free)[None, :], lambda q: b * q[None, :] ** 2)
    assert points.flow[0] == pytest.approx(np.sqrt(shut_off / (b + shut_off / free**2)), rel=2e-5)
    assert not points.rising[0]


def test_two_fans_in_series_and_in_parallel():
    """Pressures add at equal flow; flows add at equal pressure."""
    two = REFERENCE["two_fans"]
    load = two["b"] * np.linspace(0.0, 0.11, 4000) ** 2
    flow = np.linspace(0.0, 0.11, 4000)
    one = parabola(flow, two["P0"], two["Qmax"])
    halved = parabola(flow / 2.0, two["P0"], two["Qmax"])
    assert operating_points(flow, 2.0 * one[None, :], load[None, :]).flow[0] == pytest.approx(
        two["series"], rel=1e-6
    )
    assert operating_points(flow, halved[None, :], load[None, :]).flow[0] == pytest.approx(
        two["parallel"], rel=1e-6
    )


def test_three_roots_are_all_listed_with_their_stability():
    """(x − 0.2)(x − 0.5)(x − 0.8) falling: stable, unstable, stable."""
    flow = np.linspace(0.0, 1.0, 401)
    surplus = -(flow - 0.2) * (flow - 0.5) * (flow - 0.8)
    fan = np.tile(2.0 + surplus, (40, 1))
    fan[:36] = 2.0 - 2.0 * (flow - 0.7)  # one root in these rows
    fan[0] = 2.0 + surplus
    points = operating_points(flow, fan, np.full((1, 401), 2.0), sources=2)
    assert points.central == pytest.approx([0.2, 0.5, 0.8], abs=1e-6)
    assert points.central_stable.tolist() == [True, False, True]
    assert (points.flow[0], points.lowest[0], points.highest[0]) == pytest.approx((0.8, 0.2, 0.8), abs=1e-6)
    assert points.share_multiple == pytest.approx(4 / 37)  # the central and the two moved rows don't count
    assert points.not_unique


def test_a_root_on_the_rising_branch_is_flagged():
    """A steep load line meets the rising flank of a saddle: stable, and flagged."""
    flow = np.linspace(0.0, 1.0, 401)
    fan = 1.0 - 0.8 * np.exp(-(((flow - 0.4) / 0.12) ** 2)) - 0.3 * flow
    points = operating_points(flow, fan[None, :], 5.0 * (flow[None, :] - 0.40))
    assert points.count[0] == 1
    assert 0.40 < points.flow[0] < 0.46
    assert points.rising[0]
    assert points.central_stable.tolist() == [True]
    assert points.rising.all()
    gentle = operating_points(flow, fan[None, :], 0.5 * flow[None, :])
    assert not gentle.rising[0]


def test_rows_without_a_root_are_flagged_and_refused():
    fan = np.stack([parabola(FLOW), parabola(FLOW) + 100.0])
    points = operating_points(FLOW, fan, np.zeros((1, len(FLOW))), reach=(0.0, 0.045))
    assert points.missing.tolist() == [False, True]
    assert np.isnan(points.flow).tolist() == [False, True]
    assert points.inside.tolist() == [False, False]
    with pytest.raises(NotPossible, match="none in 1 of 2 rows"):
        points.complete("operating flow")


def test_objective_points_of_a_parabola():
    """Greatest air power at Qm/√3, of 2 P0 Qm/(3√3)."""
    rows = np.stack([parabola(FLOW), parabola(FLOW, 40.0, 0.045)])
    assert shut_off_pressure(FLOW, rows).complete("shut-off") == pytest.approx([60.0, 40.0])
    assert free_delivery(FLOW, rows).complete("free delivery") == pytest.approx([0.05, 0.045], rel=1e-5)
    power, at = greatest_air_power(FLOW, rows)
    assert power.values == pytest.approx([2 * 60 * 0.05 / 27**0.5, 2 * 40 * 0.045 / 27**0.5], rel=1e-5)
    assert at.values == pytest.approx([0.05 / 3**0.5, 0.045 / 3**0.5], rel=2e-4)
    assert power.inside.all()


def test_extrapolation_to_shut_off_and_free_delivery_is_flagged():
    rows = parabola(FLOW)[None, :]
    assert not free_delivery(FLOW, rows, reach=(0.0, 0.048)).inside[0]
    assert free_delivery(FLOW, rows, reach=(0.0, 0.0499)).inside[0]
    assert not shut_off_pressure(FLOW, rows, reach=(0.004, 0.05)).inside[0]
    assert shut_off_pressure(FLOW[1:], rows[:, 1:]).missing.all()
    power, _ = greatest_air_power(FLOW[:100], rows[:, :100])
    assert power.missing.all()


def test_a_curve_that_does_not_fit_its_flows_is_refused():
    with pytest.raises(BadInput, match="pressures on"):
        operating_points(FLOW, np.zeros((1, 7)), np.zeros((1, 7)))
    with pytest.raises(BadInput, match="not rising"):
        operating_points(FLOW[::-1], np.zeros((1, 400)), np.zeros((1, 400)))
