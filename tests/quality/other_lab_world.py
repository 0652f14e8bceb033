"""A second invented laboratory, for the tests only: other fans, other rigs, other faults than the demo's.

It shares the demo's nozzle physics (`demo.air`, held against published figures) and nothing else: the fans'
curves are of another family, the bank has other nozzles of another length, and its gauges have one-line
accuracies in place of certificates.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field, replace

from stillroom.demo.air import STANDARD_DENSITY, Air, Nozzle, nozzle_drop

BORES = {"D10": 10.0, "D15": 15.0, "D22": 22.0, "D34": 34.0, "D52": 52.0}
"""Bores of the bank [mm], of length ratio 0.5."""
SETS = (
    ("D10",),
    ("D15",),
    ("D10", "D15"),
    ("D22",),
    ("D15", "D22"),
    ("D34",),
    ("D22", "D34"),
    ("D52",),
    ("D34", "D52"),
)
BESIDE_PLUGGED = (("D15",), ("D22",), ("D10", "D34"), ("D52",))
"""What is opened where D10 is listed though nothing goes through it."""
GAUGES = {
    "static_pressure": (0.002, 0.05, 0.05, 0.004),
    "nozzle_pressure": (0.002, 0.10, 0.10, 0.006),
    "barometric_pressure": (0.0, 60.0, 4.0, 0.0),
    "temperature": (0.0, 0.25, 0.02, 0.0),
    "relative_humidity": (0.0, 0.02, 0.002, 0.0),
    "speed": (0.0005, 0.0, 0.0, 0.0008),
}
"""{quantity: (accuracy of reading, accuracy fixed [SI], noise [SI], noise of reading)}."""
POINTS = 12


@dataclass(frozen=True)
class OtherFan:
    """A fan: Q = k_q n x and p = k_p n² g(x), x from 0 to 1.

    g is a parabola with a saddle cut out of it and a corner at the end, not the demo's power law.
    """

    name: str
    maker: str
    size: float
    k_q: float
    k_p: float
    full: float
    control: str
    belly: float
    saddle: float
    at: float

    def shape(self, x: float) -> float:
        smooth = (1 - x * x) * (1 - self.belly * x) + 0.35 * self.belly * x * (1 - x)
        return smooth - self.saddle * x * (1 - x) / (1 + ((x - self.at) / 0.09) ** 2)

    def pressure(self, x: float, n: float, density: float) -> float:
        return self.k_p * n * n * (n / 25) ** 0.03 * density / STANDARD_DENSITY * self.shape(x)

    def flow(self, x: float, n: float) -> float:
        return self.k_q * n * (n / 25) ** 0.03 * x

    def speed(self, setting: float, khz: float) -> float:
        """Speed at free delivery; below 5 kHz a control signal is misread."""
        if self.control == "volts":
            return self.full * (setting - 1.5) / 10.5
        if self.control == "speed":
            return setting / 60
        duty = setting / 100
        return self.full * (0.2 + 0.8 * (duty if khz > 5 else 0.55 * duty + 0.45 * duty**0.5))


@dataclass(frozen=True)
class Wrong:
    """What is wrong in a sweep."""

    speed: float = 1.0
    flow: float = 1.0
    pressure: float = 1.0
    plugged: str = ""
    bore: tuple[str, float] = ("", 0.0)
    leak: float = 0.0
    speeding: float = 0.0
    zero: float = 0.0


NOTHING = Wrong()


@dataclass(frozen=True)
class Fitting:
    """One mounting: whose, on which rig, on which day, and what went wrong in it."""

    fan: str
    sample: str
    number: int
    rig: str = "hall"
    really: str = ""
    wrong: Wrong = NOTHING
    at: dict[float, Wrong] = field(default_factory=dict)
    swapped: tuple[float, ...] = ()
    khz: float = 25.0
    day: int = 0

    @property
    def name(self) -> str:
        return f"{self.fan}/{self.sample}/{self.number}"

    @property
    def faulty(self) -> bool:
        return bool(self.really or self.wrong != NOTHING or self.at or self.swapped or self.khz < 20)

    def sound(self) -> Fitting:
        return replace(self, really="", wrong=NOTHING, at={}, swapped=(), khz=25.0)


SETTINGS = {
    "duty": (30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0),
    "volts": (5.0, 6.5, 8.0, 9.5, 11.0, 12.0),
    "speed": (800.0, 1000.0, 1200.0, 1400.0, 1600.0, 1800.0),
}
CFM_TO_M3H = 1.699010796
MMH2O = 9.80665

FITTINGS = (
    *(Fitting(name, "s1", i) for i in (1, 2) for name in (
        "Thrift", "Samphire", "Sandwort", "Dulse", "Marram", "Glasswort", "Campion", "Squill", "Tamarisk")),
    Fitting("Thrift", "s1", 3, wrong=Wrong(speed=0.5)),
    Fitting("Samphire", "s1", 3, wrong=Wrong(plugged="D10")),
    Fitting("Sandwort", "s1", 3, wrong=Wrong(bore=("D34", 35.1e-3))),
    Fitting("Dulse", "s1", 3, rig="tunnel", at={80.0: Wrong(flow=CFM_TO_M3H)}),
    Fitting("Marram", "s2", 1, at={9.5: Wrong(pressure=MMH2O)}),
    Fitting("Glasswort", "s2", 1, at={1400.0: Wrong(speeding=0.06)}),
    Fitting("Campion", "s2", 1),
    Fitting("Campion", "s3", 1),
    Fitting("Campion", "s3", 2, really="s2"),
    Fitting("Squill", "s1", 3, swapped=(60.0, 80.0)),
    Fitting("Tamarisk", "s1", 3, khz=1.0),
    Fitting("Thrift", "s2", 1, at={70.0: Wrong(zero=-2.4)}),
    Fitting("Samphire", "s2", 1),
    Fitting("Squill", "s2", 1),
    Fitting("Dulse", "s1", 4, wrong=Wrong(leak=2.6e-4)),
)  # fmt: skip

_FANS = (
    # name, maker, size, k_q per rpm [m³/h], k_p [Pa/rpm²], full [rpm], control, belly, saddle, at
    ("Thrift", "Ostrel", 140, 0.094, 9.0e-6, 1500, "duty", 0.30, 0.25, 0.42),
    ("Samphire", "Ostrel", 140, 0.101, 8.1e-6, 1750, "duty", 0.22, 0.40, 0.38),
    ("Sandwort", "Vikmar", 140, 0.088, 1.1e-5, 1600, "duty", 0.40, 0.15, 0.45),
    ("Dulse", "Vikmar", 120, 0.062, 7.4e-6, 2100, "duty", 0.35, 0.30, 0.40),
    ("Marram", "Ostrel", 120, 0.057, 8.8e-6, 1900, "volts", 0.25, 0.45, 0.36),
    ("Glasswort", "Lund & Vane", 120, 0.060, 6.6e-6, 2400, "speed", 0.32, 0.20, 0.43),
    ("Campion", "Lund & Vane", 120, 0.065, 7.9e-6, 1800, "duty", 0.28, 0.35, 0.41),
    ("Squill", "Vikmar", 92, 0.028, 4.6e-6, 2700, "duty", 0.36, 0.25, 0.39),
    ("Tamarisk", "Lund & Vane", 120, 0.059, 7.1e-6, 2000, "duty", 0.31, 0.30, 0.44),
)


def draws(seed: int, *names: object) -> random.Random:
    return random.Random("|".join(map(str, (seed, *names))))


def fans() -> dict[str, OtherFan]:
    return {
        row[0]: OtherFan(row[0], row[1], row[2] / 1000, row[3] / 60, row[4] * 3600, row[5] / 60, *row[6:])
        for row in _FANS
    }


def sample_of(seed: int, fan: OtherFan, sample: str) -> OtherFan:
    own = draws(seed, fan.name, sample)
    q, p, n = (1 + own.gauss(0, sd) for sd in (0.01, 0.01, 0.025))
    full = fan.full * n
    return replace(fan, k_q=fan.k_q * q, k_p=fan.k_p * p, full=full)


def sweep(seed: int, fitting: Fitting, setting: float) -> list[dict[str, float | str]]:
    """The readings of one sweep in SI, shut-off first."""
    truly = setting
    if setting in fitting.swapped:
        truly = next(each for each in fitting.swapped if each != setting)
    own = draws(seed, fitting.name, "mounted")
    fan = sample_of(seed, fans()[fitting.fan], fitting.really or fitting.sample)
    fan = replace(fan, k_q=fan.k_q * (1 + own.gauss(0, 0.004)), k_p=fan.k_p * (1 + own.gauss(0, 0.004)))
    wrong = fitting.at.get(setting, fitting.wrong)
    noise = draws(seed, fitting.name, setting)
    day = draws(seed, "day", fitting.day)
    air = Air(100_900 + day.gauss(0, 500), 293.6 + day.gauss(0, 0.8), 0.42 + day.uniform(-0.05, 0.05))
    free, shift = fan.speed(truly, fitting.khz), noise.uniform(0.0, 0.06)
    held = fan.control == "speed"
    least = (_leaking(fan, free, air, wrong.leak) if wrong.leak else 0.0) + 0.08 + shift
    rows = []
    for i in range(POINTS):
        x = 0.0 if i == 0 else least + (1.0 - least) * (i - 1) / (POINTS - 2)
        shown = free if held else free * (1 - 0.025 * (1 - x))
        along = i / (POINTS - 1)
        rows.append(
            _row(seed, fan, fitting, wrong, air, x, shown, shown * (1 + wrong.speeding * along), along, noise)
        )
    return rows


def _row(
    seed: int, fan: OtherFan, fitting: Fitting, wrong: Wrong, air: Air, x: float, shown: float, n: float,
    along: float, noise: random.Random,
) -> dict[str, float | str]:  # fmt: skip
    pressure = fan.pressure(x, n, air.density)
    flow = fan.flow(x, n) - wrong.leak * math.sqrt(2 * max(pressure, 0.0) / air.density)
    row: dict[str, float | str] = {"speed": _shown(seed, "speed", shown, noise) * wrong.speed}
    if fitting.rig == "tunnel":
        rig = draws(seed, "tunnel")
        gains = [1 + rig.gauss(0, 0.009) for _ in range(2)]
        row["flow"] = fan.flow(x, n) * gains[0] * (1 + noise.gauss(0, 0.005)) * wrong.flow
        row["static_pressure"] = pressure * gains[1] * (1 + noise.gauss(0, 0.005)) + noise.gauss(0, 0.06)
        return row
    shut = x == 0.0 or flow < 5.2e-4
    names = () if shut else _opened(seed, flow, wrong.plugged)
    row["nozzles"] = "+".join(names) or "none"
    row["nozzle_pressure"] = 0.0
    if shut and wrong.leak:
        pressure = fan.pressure(_leaking(fan, n, air, wrong.leak), n, air.density)
    elif shut:
        pressure = fan.pressure(0.0, n, air.density)
    if names:
        bank = [_nozzle(seed, each, wrong.bore) for each in names if each != wrong.plugged]
        drop = nozzle_drop(flow, tuple(bank), air, pressure)
        row["nozzle_pressure"] = _shown(seed, "nozzle_pressure", drop, noise)
    read = _shown(seed, "static_pressure", pressure, noise) + wrong.zero * along
    row["static_pressure"] = read * wrong.pressure
    for quantity, true in (
        ("barometric_pressure", air.pressure), ("temperature", air.temperature), ("relative_humidity", air.humidity),
    ):  # fmt: skip
        row[quantity] = _shown(seed, quantity, true, noise)
    return row


def _leaking(fan: OtherFan, n: float, air: Air, leak: float) -> float:
    """The opening at which all that the fan moves goes through the leak."""
    low, high = 0.0, 1.0
    for _ in range(40):
        middle = (low + high) / 2
        lost = leak * math.sqrt(2 * max(fan.pressure(middle, n, air.density), 0.0) / air.density)
        low, high = (middle, high) if fan.flow(middle, n) < lost else (low, middle)
    return high


def _shown(seed: int, quantity: str, true: float, noise: random.Random) -> float:
    share, fixed, sd, sd_share = GAUGES[quantity]
    gauge = draws(seed, "gauge", quantity)
    gain, offset = 1 + gauge.uniform(-share, share), gauge.uniform(-fixed, fixed)
    return true * gain + offset + noise.gauss(0, math.hypot(sd, sd_share * true))


def _nozzle(seed: int, name: str, bore: tuple[str, float]) -> Nozzle:
    true = BORES[name] / 1000 * (1 + draws(seed, "bore", name).gauss(0, 0.0004))
    excess = 1 + draws(seed, "coefficient").gauss(0, 0.002)
    return Nozzle(name, bore[1] if bore[0] == name else true, 0.5, excess)


def _opened(seed: int, flow: float, plugged: str) -> tuple[str, ...]:
    """The set whose gauge stands nearest to 150 Pa; what is plugged lets nothing through."""

    def away(names: tuple[str, ...]) -> float:
        area = sum(math.pi * (BORES[each] / 1000) ** 2 / 4 for each in names if each != plugged)
        drop = 0.6 * (flow / (0.95 * area)) ** 2
        away_from = abs(math.log(drop / 150.0))
        return away_from if 27.0 < drop < 550.0 else away_from + 10.0

    return min(BESIDE_PLUGGED if plugged else SETS, key=away)
