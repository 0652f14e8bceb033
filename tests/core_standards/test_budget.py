"""The linear budget against the examples of JCGM 100, TN 1900 and others, GTC and `uncertainties`."""

from __future__ import annotations

import GTC
import numpy as np
import pytest
import uncertainties
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from uncertainties import umath

from stillroom.core.budget import Budget, Input, covariance, linear_budget
from stillroom.errors import NotPossible, OutOfRange


def end_gauge() -> dict[str, Input]:
    """JCGM 100, H.1, in nm and K: the components of d and θ are inputs of their own."""
    third = 1.0 / np.sqrt(3.0)
    return {
        "l_s": Input(50_000_623.0, 25.0, 18),
        "d": Input(215.0, 5.8, 24),
        "d1": Input(0.0, 3.9, 5),
        "d2": Input(0.0, 6.7, 8),
        "alpha_s": Input(11.5e-6, 2e-6 * third),
        "d_alpha": Input(0.0, 1e-6 * third, 50),
        "theta": Input(-0.1, 0.2),
        "cyclic": Input(0.0, 0.5 / np.sqrt(2.0)),
        "d_theta": Input(0.0, 0.05 * third, 2),
    }


def end_gauge_length(x):
    d = x["d"] + x["d1"] + x["d2"]
    theta = x["theta"] + x["cyclic"]
    return x["l_s"] + d - x["l_s"] * (x["d_alpha"] * theta + x["alpha_s"] * x["d_theta"])


def test_end_gauge(published):
    budget = linear_budget(end_gauge_length, end_gauge())
    published("C144").meets(budget.u)
    published("C145").meets(np.floor(budget.effective_dof))
    published("C149").meets(budget.expanded(0.99))
    published("C146").meets(np.sqrt(sum(budget.contributions[name] ** 2 for name in ("d", "d1", "d2"))))
    assert budget.value == pytest.approx(50_000_838.0)
    # H.1.3.4 to H.1.3.6: the coefficient of α_s and that of θ are zero
    assert budget.contributions["alpha_s"] == budget.contributions["theta"] == 0.0


PHASES = {("V", "I"): -0.36, ("V", "phi"): 0.86, ("I", "phi"): -0.65}


def test_impedance_with_correlated_inputs(published):
    x = published("C150").inputs
    inputs = {name: Input(*x[name]) for name in ("V", "I", "phi")}
    R = linear_budget(lambda v: v["V"] / v["I"] * np.cos(v["phi"]), inputs, PHASES)
    X = linear_budget(lambda v: v["V"] / v["I"] * np.sin(v["phi"]), inputs, PHASES)
    Z = linear_budget(lambda v: v["V"] / v["I"], inputs, PHASES)
    for number, value in (("C150", R), ("C151", X), ("C152", Z)):
        published(number).meets(value.value)
    published("C153").meets(R.u)
    published("C155").meets(Z.u)
    published("C158").meets(covariance(X, Z) / (X.u * Z.u))

    # the three at once, along an axis of their own
    def all_three(v):
        modulus = v["V"] / v["I"]
        return np.stack([modulus * np.cos(v["phi"]), modulus * np.sin(v["phi"]), modulus], axis=-1)

    np.testing.assert_allclose(linear_budget(all_three, inputs, PHASES).u, [R.u, X.u, Z.u], rtol=1e-12)


def test_thermometer_line(published):
    """JCGM 100, H.3: the line is a linear function of its eleven readings, each with the residual sd."""
    x = published("C159").inputs
    t, b = np.array(x["t"]) - x["t0"], np.array(x["b"])
    fit = np.polynomial.polynomial.polyfit(t, b, 1)
    s = np.sqrt(np.sum((b - fit[0] - fit[1] * t) ** 2) / (len(t) - 2))
    inputs = {f"b{i}": Input(each, s) for i, each in enumerate(b)}

    def slope(v):
        readings = np.stack([v[name] for name in inputs], axis=-1)
        return (readings * (t - t.mean())).sum(axis=-1) / ((t - t.mean()) ** 2).sum()

    def intercept(v):
        return np.stack([v[name] for name in inputs], axis=-1).mean(axis=-1) - slope(v) * t.mean()

    y_1, y_2 = linear_budget(intercept, inputs), linear_budget(slope, inputs)
    published("C159").meets(y_1.value)
    published("C161").meets(y_2.value)
    published("C162").meets(y_2.u)
    r = covariance(y_1, y_2) / (y_1.u * y_2.u)
    published("C163").meets(r)
    line = {"y1": Input(y_1.value, y_1.u), "y2": Input(y_2.value, y_2.u)}
    at_30 = linear_budget(lambda v: v["y1"] + v["y2"] * 10.0, line, {("y1", "y2"): float(r)})
    published("C164").meets(at_30.value)
    published("C165").meets(at_30.u)


def test_thermal_expansion_coefficient(published):
    # NIST TN 1900, E13; the inputs as in a public test suite that cites it
    inputs = {"L0": Input(1.4999, 1e-4, 3), "T0": Input(288.15, 0.02, 3),
              "L1": Input(1.5021, 2e-4, 3), "T1": Input(373.10, 0.05, 3)}  # fmt: skip
    budget = linear_budget(lambda v: (v["L1"] - v["L0"]) / (v["L0"] * (v["T1"] - v["T0"])), inputs)
    published("C177").meets(budget.u)
    assert budget.value == pytest.approx(1.7266e-5, abs=1e-9)


def test_mass_calibration_to_first_order(published):
    third = 1.0 / np.sqrt(3.0)
    inputs = {
        "m_Rc": Input(100_000.0, 0.05), "dm_Rc": Input(1.234, 0.02), "rho_a": Input(1.2, 0.1 * third),
        "rho_W": Input(8000.0, 1000.0 * third), "rho_R": Input(8000.0, 50.0 * third),
    }  # fmt: skip
    budget = linear_budget(
        lambda v: (v["m_Rc"] + v["dm_Rc"]) * (1.0 + (v["rho_a"] - 1.2) * (1 / v["rho_W"] - 1 / v["rho_R"])),
        inputs,
    )
    published("C173").meets(budget.u)


def test_effective_degrees_of_freedom(published):
    x = published("C183").inputs
    inputs = {"a": Input(0.0, x["u"][0], 9), "b": Input(0.0, x["u"][1])}
    budget = linear_budget(lambda v: v["a"] + v["b"], inputs)
    published("C183").meets(budget.effective_dof)
    assert float(budget.coverage_factor()) == pytest.approx(stats.t.ppf(0.975, 12), rel=1e-12)


def test_rectangular_limits(published):
    figure = published("C142")
    budget = linear_budget(lambda v: v["a"], {"a": Input(0.0, figure.inputs["limit"] / np.sqrt(3.0))})
    figure.meets(budget.u)
    assert float(budget.coverage_factor()) == pytest.approx(1.959963984540054, rel=1e-12)
    assert np.isinf(budget.effective_dof)


def sample_function(v):
    return v["a"] * np.sqrt(v["b"]) / (1.0 + v["c"] ** 2)


@given(st.floats(1.0, 9.0), st.floats(1.0, 9.0), st.floats(0.1, 3.0), st.floats(3.0, 40.0))
def test_second_routes_agree(a, b, c, dof):
    u = (1e-4 * a, 2e-4 * b, 3e-4)
    inputs = {"a": Input(a, u[0], dof), "b": Input(b, u[1]), "c": Input(c, u[2], 7.0)}
    ours = linear_budget(sample_function, inputs)
    x, y, z = GTC.ureal(a, u[0], dof), GTC.ureal(b, u[1]), GTC.ureal(c, u[2], 7.0)
    theirs = x * GTC.sqrt(y) / (1.0 + z**2)
    assert float(ours.value) == pytest.approx(theirs.x, rel=1e-14)
    assert float(ours.u) == pytest.approx(theirs.u, rel=1e-6)
    assert float(ours.effective_dof) == pytest.approx(theirs.df, rel=1e-6)
    for name, each in zip("abc", (x, y, z), strict=True):
        assert float(abs(ours.contributions[name])) == pytest.approx(
            abs(GTC.component(theirs, each)), rel=1e-5
        )
    x, y, z = (uncertainties.ufloat(*pair) for pair in zip((a, b, c), u, strict=True))
    assert float(ours.u) == pytest.approx((x * umath.sqrt(y) / (1.0 + z**2)).s, rel=1e-6)


def test_correlated_inputs_agree_with_gtc():
    x, y = GTC.ureal(3.0, 0.01, label="x", independent=False), GTC.ureal(2.0, 0.02, independent=False)
    GTC.set_correlation(0.7, x, y)
    theirs = x * y - y**2
    ours = linear_budget(
        lambda v: v["x"] * v["y"] - v["y"] ** 2,
        {"x": Input(3.0, 0.01), "y": Input(2.0, 0.02)},
        {("y", "x"): 0.7},
    )
    assert float(ours.u) == pytest.approx(theirs.u, rel=1e-9)


def test_points_are_worked_on_together_and_equal_single_calls():
    a, b = np.linspace(1.0, 2.0, 6).reshape(2, 3), np.array([3.0, 4.0, 5.0])
    inputs = {"a": Input(a, 0.01), "b": Input(b, 0.02 * b), "c": Input(0.5, 0.01)}
    together = linear_budget(sample_function, inputs)
    by_rows = linear_budget(sample_function, inputs, stacked=False)
    for i, j in np.ndindex(2, 3):
        single = {"a": Input(a[i, j], 0.01), "b": Input(b[j], 0.02 * b[j]), "c": Input(0.5, 0.01)}
        one = linear_budget(sample_function, single)
        for budget in (together, by_rows):
            assert budget.value[i, j] == pytest.approx(float(one.value), rel=1e-14)
            assert budget.u[i, j] == pytest.approx(float(one.u), rel=1e-10)


def test_a_function_is_called_once_for_all_rows():
    calls = []

    def function(v):
        calls.append(v["a"].shape)
        return v["a"] + v["b"]

    linear_budget(function, {"a": Input(np.zeros(120), 1.0), "b": Input(0.0, 1.0)})
    assert calls == [(5, 120)]


def test_shared_sources_cancel_in_a_difference():
    def fan(own: str) -> Budget:
        return linear_budget(
            lambda v: 50.0 * v["barometer"] + v[own],
            {"barometer": Input(1.0, 0.01), own: Input(0.0, 0.03)},
        )

    a, b = fan("fan a"), fan("fan b")
    variance = a.u**2 + b.u**2 - 2.0 * covariance(a, b)
    assert float(np.sqrt(variance)) == pytest.approx(np.sqrt(2.0) * 0.03, rel=1e-9)
    assert float(covariance(a, b)) == pytest.approx(0.5**2, rel=1e-9)


def test_full_correlation_adds_or_cancels():
    inputs = {"a": Input(0.0, 3.0), "b": Input(0.0, 4.0)}
    for r, u in ((1.0, 7.0), (-1.0, 1.0), (0.0, 5.0)):
        assert float(linear_budget(lambda v: v["a"] + v["b"], inputs, {("a", "b"): r}).u) == pytest.approx(u)


def test_what_a_budget_refuses():
    one = {"a": Input(1.0, 0.1), "b": Input(1.0, 0.1, 5)}

    def add(v):
        return v["a"] + v["b"]

    for inputs, links, kind, named in (
        ({}, {}, NotPossible, "budget"),
        ({"a": Input(1.0, -0.1)}, {}, OutOfRange, "uncertainty of 'a'"),
        ({"a": Input(1.0, float("nan"))}, {}, OutOfRange, "uncertainty of 'a'"),
        ({"a": Input(1.0, 0.1, 0.5)}, {}, OutOfRange, "degrees of freedom"),
        (one, {("a", "z"): 0.5}, OutOfRange, "correlation"),
        (one, {("a", "a"): 1.0}, OutOfRange, "correlation"),
        (one, {("a", "b"): 1.5}, OutOfRange, "correlations"),
    ):
        with pytest.raises(kind, match=named):
            linear_budget(add, inputs, links)
    with pytest.raises(NotPossible, match="not finite"):
        linear_budget(lambda v: v["a"] * np.inf, one)
    with pytest.raises(NotPossible, match="independent"):
        _ = linear_budget(add, one, {("a", "b"): 0.5}).effective_dof
    with pytest.raises(OutOfRange, match="coverage probability"):
        linear_budget(add, one).expanded(1.0)
    with pytest.raises(NotPossible, match="two correlations"):
        covariance(linear_budget(add, one, {("a", "b"): 0.5}), linear_budget(add, one, {("a", "b"): 0.4}))
