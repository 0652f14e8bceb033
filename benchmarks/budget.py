"""The linear budget of 120 points of a nozzle-bank reduction: ours in one call against GTC point by point.

Run `python benchmarks/budget.py`: both in one run, with their ratio and how closely they agree. The model is
the same: air by CIPM-2007, three nozzles with the discharge coefficient stepped or solved to the same digits,
flow and pressure brought to nominal speed and density; sixteen sources of error. The readings are invented.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Mapping
from pathlib import Path

import GTC
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

from stillroom.core import fanlaws
from stillroom.core.arrays import Array
from stillroom.core.budget import Budget, Input, linear_budget
from stillroom.core.standards import moist_air_cipm_2007 as moist_air
from stillroom.core.standards.ansi_amca_210_2007 import air, bank
from stillroom.core.standards.ansi_amca_210_2007.nozzles import LengthRatio

POINTS = 120
AT = np.arange(POINTS)
NOMINAL = 20.0
VALUES: dict[str, tuple[Array, float]] = {
    "barometer": (100_900.0 + 2.0 * AT, 30.0),
    "temperature": (295.0 + 0.01 * AT, 0.15),
    "humidity": (0.45 + 0.0005 * AT, 0.01),
    "dp": (150.0 + 3.0 * AT, 0.3),
    "dp_offset": (0.0 * AT, 0.15),
    "dp_gain": (0.0 * AT, 0.0025),
    "p": (60.0 - 0.5 * AT, 0.2),
    "p_offset": (0.0 * AT, 0.1),
    "p_gain": (0.0 * AT, 0.0025),
    "bore_0": (0.016 + 0.0 * AT, 5e-6),
    "bore_1": (0.025 + 0.0 * AT, 5e-6),
    "bore_2": (0.040 + 0.0 * AT, 8e-6),
    "coefficient": (0.0 * AT, 0.006),
    "speed": (19.9 + 0.001 * AT, 0.01),
    "tachometer": (0.0 * AT, 2e-4),
    "nominal_density": (1.2 + 0.0 * AT, 1e-6),
}


def our_model(x: Mapping[str, Array]) -> Array:
    """Flow and pressure, along a last axis."""
    dp = x["dp"] * (1.0 + x["dp_gain"]) + x["dp_offset"]
    p = x["p"] * (1.0 + x["p_gain"]) + x["p_offset"]
    inlet = moist_air.density(x["temperature"], x["barometer"], x["humidity"])
    before = air.plane_density(inlet, x["barometer"], x["temperature"], p, x["temperature"])
    bore = np.stack([x["bore_0"], x["bore_1"], x["bore_2"]])
    flow = bank.nozzle_bank_rate(
        dp, x["barometer"] + p, before, air.viscosity(x["temperature"]), bore, [True] * 3, LengthRatio.L_0_6
    )
    flow = bank.flow_at_density(flow, before, inlet) * (1.0 + x["coefficient"])
    to = fanlaws.conversion(x["speed"] * (1.0 + x["tachometer"]), inlet, NOMINAL, x["nominal_density"])
    return np.stack([flow * to.flow, p * to.pressure], axis=-1)


def ours() -> Budget:
    inputs = {name: Input(np.asarray(value, dtype=np.float64), u) for name, (value, u) in VALUES.items()}
    return linear_budget(our_model, inputs)


def gtc_model(x):  # type: ignore[no-untyped-def]
    dp = x["dp"] * (1.0 + x["dp_gain"]) + x["dp_offset"]
    p = x["p"] * (1.0 + x["p_gain"]) + x["p_offset"]
    T, barometer = x["temperature"], x["barometer"]
    t = T - 273.15
    saturated = GTC.exp(1.2378847e-5 * T * T - 1.9121316e-2 * T + 33.93711047 - 6343.1645 / T)
    x_v = x["humidity"] * (1.00062 + 3.14e-8 * barometer + 5.6e-7 * t * t) * saturated / barometer
    p_T = barometer / T
    inner = 1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t * t + (5.707e-6 - 2.051e-8 * t) * x_v
    inner = inner + (1.9898e-4 - 2.376e-6 * t) * x_v * x_v
    z = 1.0 - p_T * inner + p_T * p_T * (1.83e-11 - 0.765e-8 * x_v * x_v)
    molar = 28.96546e-3
    inlet = p_T * molar / (z * 8.314472) * (1.0 - x_v * (1.0 - 18.01528e-3 / molar))
    before = inlet * (barometer + p) / barometer
    mu = (17.23 + 0.048 * t) * 1e-6
    alpha = 1.0 - dp / (barometer + p)
    y = GTC.sqrt(3.5 * alpha ** (2 / 1.4) * (1.0 - alpha ** (0.4 / 1.4)) / (1.0 - alpha))
    velocity = y * GTC.sqrt(2.0 * dp / before)
    flow = 0.0
    for name in ("bore_0", "bore_1", "bore_2"):
        ideal = x[name] * velocity * before / mu
        c = 0.97
        for _ in range(6):
            reynolds = c * ideal
            c = 0.9986 - 7.006 / GTC.sqrt(reynolds) + 134.6 / reynolds
        flow = flow + c * np.pi / 4.0 * x[name] * x[name] * velocity
    flow = flow * before / inlet * (1.0 + x["coefficient"])
    ratio = NOMINAL / (x["speed"] * (1.0 + x["tachometer"]))
    return flow * ratio, p * ratio * ratio * x["nominal_density"] / inlet


def with_gtc() -> tuple[Array, Array]:
    """Values and standard uncertainties, with the contribution of each source looked up as ours are."""
    values, u = np.empty((POINTS, 2)), np.empty((POINTS, 2))
    for point in range(POINTS):
        x = {name: GTC.ureal(float(value[point]), spread) for name, (value, spread) in VALUES.items()}
        for i, result in enumerate(gtc_model(x)):
            values[point, i], u[point, i] = result.x, result.u
            for each in x.values():
                GTC.component(result, each)
    return values, u


def _best(way, times: int):  # type: ignore[no-untyped-def]
    seconds, result = np.inf, None
    for _ in range(times):
        began = time.perf_counter()
        result = way()
        seconds = min(seconds, time.perf_counter() - began)
    return seconds, result


def run() -> dict[str, float]:
    """Both ways, best of several; ratio and agreement by name."""
    our_seconds, budget = _best(ours, 20)
    gtc_seconds, (values, u) = _best(with_gtc, 3)
    return {
        "our_seconds": our_seconds,
        "gtc_seconds": gtc_seconds,
        "ratio": gtc_seconds / our_seconds,
        "largest_relative_difference_of_value": float(np.max(np.abs(budget.value / values - 1.0))),
        "largest_relative_difference_of_u": float(np.max(np.abs(budget.u / u - 1.0))),
    }


if __name__ == "__main__":
    print(f"Linear budget, {POINTS} points, {len(VALUES)} sources, two quantities")
    for name, value in run().items():
        print(f"  {name:38s} {value:12.3g}")
