"""Invented fans on an invented bench, with a truth to be found again.

The physics are this file's own and share no code with the calculation they test: a fan moves
Q = k_q N (N/1500)^e q against p = k_p N² (N/1500)^e (ρ/1.2) g(q), the bench reads nozzle and chamber
pressures with hidden errors of gain, offset, bore and coefficient, and its readings are
reduced as if there were none.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

DIAMETER = 0.12  # m
AREA = np.pi / 4 * DIAMETER**2
DENSITY = 1.2
KINEMATIC_VISCOSITY = 1.51e-5
SPEEDS = np.array([600.0, 800.0, 1000.0, 1200.0, 1400.0, 1600.0, 1800.0, 2000.0])  # 1/min
SETTINGS = 14
BORES = np.array([0.012, 0.016, 0.025, 0.040, 0.060])
# Δp = a Q + b Q² in Pa with Q in m³/h, per 120 mm tile
OBSTACLES = {
    "grille": (0.0, 1.2e-4),
    "mesh": (0.035, 3e-4),
    "filter": (0.08, 6e-4),
    "radiator 27": (0.085, 1.15e-3),
    "radiator 45": (0.11, 1.5e-3),
    "dense": (0.16, 2.6e-3),
}


@dataclass(frozen=True)
class TrueFan:
    """k_q in m³/h per 1/min, k_p in Pa per (1/min)², at 1,500 1/min."""

    k_q: float
    k_p: float
    a: float
    m: float
    dip: float
    dip_at: float
    dip_width: float
    growth: float

    def shape(self, q: Array) -> Array:
        stall = 4 * q * (1 - q) * np.exp(-(((q - self.dip_at) / self.dip_width) ** 2) / 2)
        falling = 1 - self.a * q - (1 - self.a) * np.abs(q) ** self.m
        return falling - self.dip * stall

    def flow(self, q: Array, speed: float) -> Array:
        """m³/s."""
        return self.k_q * speed * (speed / 1500) ** self.growth * q / 3600

    def pressure(self, q: Array, speed: float) -> Array:
        """Pa."""
        return self.k_p * speed**2 * (speed / 1500) ** self.growth * self.shape(q)

    def opening(self, flow: Array, speed: float) -> Array:
        return flow * 3600 / (self.k_q * speed * (speed / 1500) ** self.growth)

    def stalls_below(self) -> float:
        """Opening under which the fan counts as stalled; 0 where there is no saddle."""
        return self.dip_at + 2 * self.dip_width if self.dip else 0.0


def fan_a(rng: np.random.Generator) -> TrueFan:
    """A deep, narrow saddle."""
    return TrueFan(
        k_q=rng.uniform(0.052, 0.068),
        k_p=rng.uniform(5.5e-6, 9e-6),
        a=rng.uniform(0.25, 0.5),
        m=rng.uniform(2.2, 3.2),
        dip=0.5,
        dip_at=rng.uniform(0.35, 0.45),
        dip_width=0.05,
        growth=rng.uniform(0.02, 0.04),
    )


def fan_b(rng: np.random.Generator) -> TrueFan:
    """A usual fan; a quarter has no saddle."""
    smooth = rng.uniform() < 0.25
    return TrueFan(
        k_q=rng.uniform(0.052, 0.068),
        k_p=rng.uniform(5.5e-6, 9e-6),
        a=rng.uniform(0.25, 0.5),
        m=rng.uniform(2.2, 3.2),
        dip=0.0 if smooth else rng.uniform(0.05, 0.18),
        dip_at=rng.uniform(0.35, 0.45),
        dip_width=rng.uniform(0.09, 0.12),
        growth=rng.uniform(0.02, 0.04),
    )


@dataclass(frozen=True)
class Bench:
    """Hidden errors, in standard deviations; `size` are those standard deviations."""

    hidden: dict[str, float]
    noise_flow: float

    SIZE: ClassVar[dict[str, float]] = {
        "nozzle dp/gain": 0.003,
        "nozzle dp/offset": 0.10,  # Pa
        "pressure/gain": 0.003,
        "pressure/offset": 0.10,  # Pa
        "tachometer/gain": 0.0005,
        "coefficient": 0.005,
        **{f"bore {1000 * each:.0f}": 0.0012 for each in BORES},
    }

    def error(self, name: str) -> float:
        return self.hidden[name] * self.SIZE[name]


CERTIFIED = ("bore", "tachometer")


def new_bench(rng: np.random.Generator) -> Bench:
    """A bench with hidden errors: normal where a certificate gives a standard deviation, rectangular within
    stated limits (of √3 standard deviations) elsewhere.
    """
    hidden = {
        name: rng.standard_normal() if name.startswith(CERTIFIED) else rng.uniform(-(3**0.5), 3**0.5)
        for name in Bench.SIZE
    }
    return Bench(hidden, rng.uniform(0.003, 0.006))


def nozzle_for(flow: Array) -> NDArray[np.intp]:
    """The largest nozzle with at least 30 Pa, else the smallest."""
    pressure = 0.5 * DENSITY * (flow[:, None] / (0.97 * np.pi / 4 * BORES**2)) ** 2
    fits = pressure >= 30.0
    return np.where(fits.any(axis=1), len(BORES) - 1 - np.argmax(fits[:, ::-1], axis=1), 0)


@dataclass(frozen=True)
class Sweeps:
    """What the bench wrote, point by point, and the true values beside it."""

    nozzle: NDArray[np.intp]
    nozzle_pressure: Array  # Pa, as read
    pressure: Array  # Pa, as read
    speed: Array  # 1/min, as read
    sweep: NDArray[np.intp]
    noise_flow: float
    true_flow: Array  # m³/s
    true_pressure: Array  # Pa
    true_speed: Array


def run_bench(
    fan: TrueFan,
    bench: Bench,
    rng: np.random.Generator,
    *,
    staggered: bool = False,
    drift: tuple[int, float] | None = None,
    speeds: Array = SPEEDS,
    settings: int = SETTINGS,
) -> Sweeps:
    """Sweep a fan at each speed; `drift` = (sweep, relative change of the true speed that isn't read)."""
    columns: list[tuple[Array, ...]] = []
    for index, speed in enumerate(speeds):
        q = np.linspace(0.0, 1.0, settings)
        if staggered:
            q[1:-1] += ((index * 5) % len(speeds) / len(speeds) - 0.5) / (settings - 1)
        q[1:-1] += 0.001 * rng.standard_normal(settings - 2)
        true_speed = np.full(settings, speed)
        if drift and drift[0] == index:
            true_speed = speed * (1 + drift[1] * np.linspace(-0.5, 0.5, settings))
        flow = np.array([float(fan.flow(x, n)) for x, n in zip(q, true_speed, strict=True)])
        pressure = np.array([float(fan.pressure(x, n)) for x, n in zip(q, true_speed, strict=True)])
        columns.append((flow, pressure, true_speed, np.full(settings, speed), np.full(settings, index)))
    flow, pressure, true_speed, set_speed, sweep = (
        np.concatenate(each) for each in zip(*columns, strict=True)
    )
    nozzle = nozzle_for(flow)
    bore = BORES[nozzle]
    bore_error = np.array([bench.error(f"bore {1000 * each:.0f}") for each in bore])
    area = np.pi / 4 * (bore * (1 + bore_error)) ** 2
    coefficient = 0.97 * (1 + bench.error("coefficient"))
    true_nozzle_pressure = 0.5 * DENSITY * (flow / (coefficient * area)) ** 2
    noisy = true_nozzle_pressure * (1 + 2 * bench.noise_flow * rng.standard_normal(len(flow)))
    # an instrument with +1 % gain reads 1 % too little here, so that the correction has the draw's sign
    nozzle_pressure = noisy / (1 + bench.error("nozzle dp/gain")) - np.where(
        flow > 0, bench.error("nozzle dp/offset"), 0.0
    )
    spread = np.hypot(0.05, 0.005 * pressure)
    read = (pressure + spread * rng.standard_normal(len(flow))) / (1 + bench.error("pressure/gain"))
    read = read - bench.error("pressure/offset")
    speed_read = set_speed * (1 + 0.0003 * rng.standard_normal(len(flow)))
    speed_read = speed_read / (1 + bench.error("tachometer/gain"))
    return Sweeps(
        nozzle,
        nozzle_pressure,
        read,
        speed_read,
        sweep.astype(np.intp),
        bench.noise_flow,
        flow,
        pressure,
        true_speed,
    )


def reduce(sweeps: Sweeps, errors: dict[str, float]) -> tuple[Array, Array, Array]:
    """Flow [m³/s], pressure [Pa], speed [1/min] with the corrections `errors` put in (in their own units)."""

    def error(name: str) -> float:
        return errors.get(name, 0.0)

    bore = BORES[sweeps.nozzle]
    bore_error = np.array([error(f"bore {1000 * each:.0f}") for each in bore])
    area = np.pi / 4 * (bore * (1 + bore_error)) ** 2
    open_nozzle = sweeps.nozzle_pressure != 0
    dp = (sweeps.nozzle_pressure + np.where(open_nozzle, error("nozzle dp/offset"), 0.0)) * (
        1 + error("nozzle dp/gain")
    )
    flow = 0.97 * (1 + error("coefficient")) * area * np.sqrt(2 * np.maximum(dp, 0.0) / DENSITY)
    pressure = (sweeps.pressure + error("pressure/offset")) * (1 + error("pressure/gain"))
    return flow, pressure, sweeps.speed * (1 + error("tachometer/gain"))


def coefficients(flow: Array, pressure: Array, speed: Array) -> tuple[Array, Array, Array]:
    """φ, ψ and Reynolds number."""
    tip = np.pi * DIAMETER * speed / 60
    return flow / (AREA * tip), pressure / (0.5 * DENSITY * tip**2), tip * DIAMETER / KINEMATIC_VISCOSITY


def reduced(
    sweeps: Sweeps, identity: str, bench_name: str = "bench", errors: dict[str, float] | None = None
) -> dict:
    """The arguments of `Readings`; errors of each source by one difference each."""
    base = errors or {}
    phi, psi, reynolds = coefficients(*reduce(sweeps, base))
    effects = []
    for name, size in Bench.SIZE.items():
        moved = coefficients(*reduce(sweeps, {**base, name: base.get(name, 0.0) + size}))
        effects.append((moved[0] - phi, moved[1] - psi))
    _, pressure, speed = reduce(sweeps, base)
    tip = np.pi * DIAMETER * speed / 60
    own_pressure = np.hypot(0.05, 0.005 * pressure) / (0.5 * DENSITY * tip**2)
    speed_noise = 0.0003
    return {
        "flow_coefficient": phi,
        "pressure_coefficient": psi,
        "reynolds": reynolds,
        "sweep": sweeps.sweep,
        "shared_flow": np.array([each[0] for each in effects]),
        "shared_pressure": np.array([each[1] for each in effects]),
        "own_flow": phi * np.hypot(sweeps.noise_flow, speed_noise),
        "own_pressure": np.hypot(own_pressure, 2 * speed_noise * psi),
        "own_covariance": 2 * speed_noise**2 * phi * psi,
        "sources": tuple(f"{bench_name}/{name}" for name in Bench.SIZE),
        "identity": identity,
    }


def true_roots(fan: TrueFan, obstacle: tuple[float, float], speed: float) -> Array:
    """Openings q at which the fan's pressure equals the obstacle's, by bisection."""
    a, b = obstacle

    def surplus(q: Array) -> Array:
        flow = fan.flow(q, speed) * 3600
        return fan.pressure(q, speed) - a * flow - b * flow**2

    grid = np.linspace(0.0, 1.0, 4001)
    values = surplus(grid)
    at = np.flatnonzero((values[:-1] > 0) != (values[1:] > 0))
    low, high = grid[at], grid[at + 1]
    side = values[at] > 0
    for _ in range(40):
        middle = (low + high) / 2
        same = (surplus(middle) > 0) == side
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    return (low + high) / 2


def nearly_multiple(fan: TrueFan, obstacle: tuple[float, float], speed: float) -> bool:
    """Whether a change of the obstacle by 2 % would change the number of roots."""
    counts = {
        len(true_roots(fan, (obstacle[0] * factor, obstacle[1] * factor), speed))
        for factor in (0.98, 1.0, 1.02)
    }
    return len(counts) > 1
