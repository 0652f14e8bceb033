"""Monte Carlo of 120 points x 100 000 trials of a whole nozzle-bank reduction: ours against plain NumPy.

Run `python benchmarks/montecarlo.py`: both ways in one run, each in a process of its own so that its peak
memory is its own, with their ratio. The readings are invented. The plain way is what one writes first and
well: whole arrays of points x trials, NumPy's own normal deviates, the discharge coefficient stepped until it
moves by less than 1e-9 (which leaves 3e-11; ours is within 1e-11), `np.percentile`.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time
from collections.abc import Mapping
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

from stillroom.core import fanlaws
from stillroom.core.arrays import Array
from stillroom.core.montecarlo import Propagated, Source, propagate
from stillroom.core.standards import moist_air_cipm_2007 as moist_air
from stillroom.core.standards.ansi_amca_210_2007 import air, bank
from stillroom.core.standards.ansi_amca_210_2007.nozzles import LengthRatio

POINTS, TRIALS = 120, 100_000
BORE = np.array([0.016, 0.025, 0.040])
PATTERNS = np.array([[1, 0, 0], [0, 1, 0], [1, 1, 0], [0, 0, 1], [1, 0, 1], [0, 1, 1]], dtype=bool)
NOMINAL_DENSITY = 1.2

# Standard uncertainties of the invented instruments, in SI.
U = {
    "barometer": 30.0, "temperature": 0.15, "humidity": 0.01,
    "dp_offset": 0.15, "dp_gain": 0.0025, "p_offset": 0.1, "p_gain": 0.0025,
    "bore_0": 5e-6, "bore_1": 5e-6, "bore_2": 8e-6, "coefficient": 1.0, "tachometer": 2e-4,
}  # fmt: skip
OWN = ("dp_noise", "p_noise", "speed_noise")


class Readings:
    """120 invented readings: 8 speeds, 15 settings each."""

    def __init__(self) -> None:
        at = np.arange(POINTS)
        self.nominal = np.repeat(np.linspace(10.0, 33.0, 8), POINTS // 8).astype(np.float64)
        self.speed = self.nominal * (1.0 + 0.004 * np.sin(1.7 * at))
        self.open = PATTERNS[at % 15 * len(PATTERNS) // 15].T
        self.dp = 60.0 + 300.0 * (at % 15 * 0.4 % 1.0)
        self.p = 0.06 * self.speed**2 * (1.0 - (at % 15) / 16.0)
        self.barometer = 100_900.0 + 2.0 * at
        self.temperature = 295.0 + 0.01 * at
        self.humidity = 0.45 + 0.0005 * at


class Model:
    """The whole reduction: air, nozzle bank, pressure, conversion to nominal speed and density."""

    def __init__(self, read: Readings) -> None:
        self.read = read

    def __call__(self, points: slice, draw: Mapping[str, Array]) -> dict[str, Array]:
        def at(values: Array) -> Array:
            return values[points, np.newaxis]

        read = self.read
        barometer = at(read.barometer) + U["barometer"] * draw["barometer"]
        temperature = at(read.temperature) + U["temperature"] * draw["temperature"]
        humidity = at(read.humidity) + U["humidity"] * draw["humidity"]
        dp = at(read.dp) * (1.0 + U["dp_gain"] * draw["dp_gain"] + 0.003 * draw["dp_noise"])
        dp += U["dp_offset"] * draw["dp_offset"]
        p = at(read.p) * (1.0 + U["p_gain"] * draw["p_gain"] + 0.005 * draw["p_noise"])
        p += U["p_offset"] * draw["p_offset"]
        speed = at(read.speed) * (1.0 + U["tachometer"] * draw["tachometer"] + 5e-4 * draw["speed_noise"])
        bore = np.stack([BORE[i] + U[f"bore_{i}"] * draw[f"bore_{i}"] for i in range(3)])

        inlet = moist_air.density(temperature, barometer, humidity)
        before = air.plane_density(inlet, barometer, temperature, p, temperature)
        flow = bank.nozzle_bank_rate(
            dp, barometer + p, before, air.viscosity(temperature), bore,
            read.open[:, points, np.newaxis], LengthRatio.L_0_6, coefficient_shift=draw["coefficient"],
        )  # fmt: skip
        to = fanlaws.conversion(speed, inlet, at(read.nominal), NOMINAL_DENSITY)
        return {"flow": bank.flow_at_density(flow, before, inlet) * to.flow, "pressure": p * to.pressure}


def ours(workers: int) -> dict[str, Propagated]:
    sources = {name: Source(f"bench/{name}") for name in U}
    sources |= {name: Source([f"bench/point-{i}/{name}" for i in range(POINTS)]) for name in OWN}
    model = Model(Readings())
    if workers == 1:
        return propagate(model, POINTS, sources, TRIALS)
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        return propagate(model, POINTS, sources, TRIALS, executor=pool, parts=workers)


def plain() -> dict[str, Propagated]:
    read = Readings()
    rng = np.random.default_rng(1)
    shared = {name: rng.standard_normal(TRIALS) for name in U}
    noise = {name: rng.standard_normal((POINTS, TRIALS)) for name in OWN}

    barometer = read.barometer[:, None] + U["barometer"] * shared["barometer"]
    temperature = read.temperature[:, None] + U["temperature"] * shared["temperature"]
    humidity = read.humidity[:, None] + U["humidity"] * shared["humidity"]
    dp = read.dp[:, None] * (1.0 + U["dp_gain"] * shared["dp_gain"] + 0.003 * noise["dp_noise"])
    dp += U["dp_offset"] * shared["dp_offset"]
    p = read.p[:, None] * (1.0 + U["p_gain"] * shared["p_gain"] + 0.005 * noise["p_noise"])
    p += U["p_offset"] * shared["p_offset"]
    speed = read.speed[:, None] * (1.0 + U["tachometer"] * shared["tachometer"] + 5e-4 * noise["speed_noise"])
    bore = [BORE[i] + U[f"bore_{i}"] * shared[f"bore_{i}"] for i in range(3)]

    t = temperature - 273.15
    saturated = np.exp(
        1.2378847e-5 * temperature**2 - 1.9121316e-2 * temperature + 33.93711047 - 6343.1645 / temperature
    )
    x_v = humidity * (1.00062 + 3.14e-8 * barometer + 5.6e-7 * t**2) * saturated / barometer
    z = (
        1.0
        - barometer / temperature
        * (1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t**2 + (5.707e-6 - 2.051e-8 * t) * x_v
           + (1.9898e-4 - 2.376e-6 * t) * x_v**2)
        + (barometer / temperature) ** 2 * (1.83e-11 - 0.765e-8 * x_v**2)
    )  # fmt: skip
    molar = 28.96546e-3
    inlet = barometer * molar / (z * 8.314472 * temperature) * (1.0 - x_v * (1.0 - 18.01528e-3 / molar))
    upstream = barometer + p
    before = inlet * upstream / barometer
    mu = (17.23 + 0.048 * t) * 1e-6
    alpha = 1.0 - dp / upstream
    y = np.sqrt(3.5 * alpha ** (2 / 1.4) * (1.0 - alpha ** (0.4 / 1.4)) / (1.0 - alpha))
    velocity = y * np.sqrt(2.0 * dp / before)

    flow = np.zeros((POINTS, TRIALS))
    for i in range(3):
        rows = read.open[i]
        ideal = bore[i] * velocity[rows] * before[rows] / mu[rows]
        c = np.full(ideal.shape, 0.97)
        while True:
            reynolds = c * ideal
            new = 0.9986 - 7.006 / np.sqrt(reynolds) + 134.6 / reynolds
            step = np.abs(new - c).max()
            c = new
            if step < 1e-9:
                break
        u_c = 0.006 + 0.009 * np.maximum(12_000.0 - c * ideal, 0.0) / 7_000.0
        area = np.pi / 4.0 * bore[i] ** 2
        flow[rows] += c * (1.0 + u_c * shared["coefficient"]) * area * velocity[rows]

    ratio = read.nominal[:, None] / speed
    flow *= before / inlet * ratio
    pressure = p * ratio**2 * (NOMINAL_DENSITY / inlet)
    return {"flow": _plain_summary(flow), "pressure": _plain_summary(pressure)}


def _plain_summary(trials: Array) -> Propagated:
    low, high = np.percentile(trials, [2.5, 97.5], axis=1)
    return Propagated(trials.mean(axis=1), trials.std(axis=1, ddof=1), low, high)


def measure(way: str) -> dict[str, object]:
    """Run one way in this process: seconds on the wall, processor seconds, peak memory and results."""
    began = time.perf_counter()
    result = plain() if way == "plain" else ours(int(way))
    seconds = time.perf_counter() - began
    own, children = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    workers = int(way) if way not in ("plain", "1") else 0
    return {
        "seconds": seconds,
        "processor": own.ru_utime + own.ru_stime + children.ru_utime + children.ru_stime,
        "megabytes": (own.ru_maxrss + workers * children.ru_maxrss) / 1024.0,
        "results": {
            name: [each.mean.tolist(), each.u.tolist(), each.low.tolist(), each.high.tolist()]
            for name, each in result.items()
        },
    }


def _in_a_process(way: str) -> dict[str, object]:
    done = subprocess.run([sys.executable, __file__, way], check=True, capture_output=True, text=True)
    return dict(json.loads(done.stdout))


def _disagreement(a: dict[str, list[list[float]]], b: dict[str, list[list[float]]]) -> float:
    """The largest difference of a mean or an interval end, in standard uncertainties of the quantity."""
    worst = 0.0
    for name, ours_is in a.items():
        one, two = np.array(ours_is), np.array(b[name])
        worst = max(worst, float(np.max(np.abs(one - two)[[0, 2, 3]] / two[1])))
    return worst


def run() -> dict[str, float]:
    """Both ways, best of three each, in turn; ratios and figures by name."""
    ways = ("plain", "1", "2")
    rounds = [{way: _in_a_process(way) for way in ways} for _ in range(3)]

    def best(way: str, figure: str) -> float:
        return min(float(str(each[way][figure])) for each in rounds)

    results = {way: rounds[0][way]["results"] for way in ways}
    wall = {way: best(way, "seconds") for way in ways}
    return {
        "plain_seconds": wall["plain"],
        "one_worker_seconds": wall["1"],
        "two_workers_seconds": wall["2"],
        "ratio": wall["plain"] / min(wall["1"], wall["2"]),
        "ratio_one_worker": wall["plain"] / wall["1"],
        "ratio_of_processor_time": best("plain", "processor") / best("1", "processor"),
        "plain_megabytes": best("plain", "megabytes"),
        "one_worker_megabytes": best("1", "megabytes"),
        "two_workers_megabytes": best("2", "megabytes"),
        "disagreement_in_u": _disagreement(results["2"], results["plain"]),  # type: ignore[arg-type]
        "workers_agree": float(results["1"] == results["2"]),
    }


if __name__ == "__main__":
    if len(sys.argv) > 1:
        json.dump(measure(sys.argv[1]), sys.stdout)
    else:
        print(f"Monte Carlo, {POINTS} points x {TRIALS} trials, 12 shared and 3 own sources a point")
        for name, value in run().items():
            print(f"  {name:24s} {value:10.3f}")
