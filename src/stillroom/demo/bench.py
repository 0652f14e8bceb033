"""The invented airflow chamber: its gauges with their hidden errors, its nozzles, and one reading.

The fan sits at the chamber's inlet and blows into it (outlet chamber); a blower and a slide behind the
nozzles set the pressure. A gauge shows gain · true + offset + what its range adds, plus noise; what its
gain and offset truly are is drawn once, about its certificate, from the uncertainties stated there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from stillroom.demo.air import Air, Nozzle, nozzle_drop
from stillroom.demo.calendar import day_name
from stillroom.demo.draws import Draws


@dataclass(frozen=True)
class Gauge:
    """One measuring instrument, as its certificate describes it. Values in the SI unit of the quantity.

    Parameters
    ----------
    name, quantity : the quantity by its name in the vocabulary.
    unit : in which it shows its reading.
    digits : decimals shown, in that unit.
    offset, gain : as certified; the gauge shows gain · true + offset.
    offset_u, gain_u : their standard uncertainties.
    noise, noise_share : standard deviation of one reading, absolute and as a share of the reading.
    ranges : (from, to, standard uncertainty) of its departure from a straight line.
    """

    name: str
    quantity: str
    unit: str
    digits: int
    offset: float = 0.0
    offset_u: float = 0.0
    gain: float = 1.0
    gain_u: float = 0.0
    noise: float = 0.0
    noise_share: float = 0.0
    ranges: tuple[tuple[float, float, float], ...] = ()


GAUGES = (
    Gauge("gauge-static", "static_pressure", "Pa", 2, 0.06, 0.03, 1.0008, 0.001, 0.05, 0.005,
          ((0, 50, 0.02), (50, 250, 0.05))),
    Gauge("gauge-nozzle", "nozzle_pressure", "Pa", 2, -0.12, 0.05, 0.9991, 0.001, 0.05, 0.008,
          ((0, 100, 0.05), (100, 650, 0.2))),
    Gauge("barometer", "barometric_pressure", "hPa", 1, 40.0, 15.0, noise=3.0),
    Gauge("thermometer", "temperature", "°C", 2, -0.12, 0.10, noise=0.02),
    Gauge("hygrometer", "relative_humidity", "%", 1, 0.012, 0.015, noise=0.002),
    Gauge("tachometer", "speed", "rpm", 0, gain_u=0.0002, noise_share=0.0006),
    Gauge("voltmeter", "voltage", "V", 3, gain=1.0004, gain_u=0.0005, noise=0.001),
    Gauge("ammeter", "current", "A", 4, gain=0.997, gain_u=0.002, noise=0.0002, noise_share=0.003),
)  # fmt: skip
BY_QUANTITY = {gauge.quantity: gauge for gauge in GAUGES}

CERTIFICATES = {"N12": 12.003, "N16": 15.998, "N25": 25.006, "N40": 40.012, "N60": 59.991}
"""Bores as certified [mm]."""
BORE_U = {"N12": 0.006, "N16": 0.006, "N25": 0.008, "N40": 0.010, "N60": 0.015}
"""Their standard uncertainties [mm]."""
COEFFICIENT_U = 0.003
"""Standard deviation of the bank's coefficient about the formula's, as a share."""
OPEN_SETS: tuple[tuple[str, ...], ...] = (
    ("N12",), ("N16",), ("N12", "N16"), ("N25",), ("N12", "N25"), ("N40",), ("N25", "N40"), ("N60",),
    ("N40", "N60"),
)  # fmt: skip
SMALLEST_BESIDE = "N16"
"""The smallest nozzle that stays in use where N12 is plugged."""
DROP_WINDOW = (25.0, 600.0)
"""Pressure across the nozzles at which they are used [Pa]."""
BEST_DROP = 130.0
ZERO_SD = 0.03
"""How far the pressure zero moves between two days [Pa]."""


@dataclass(frozen=True)
class Bias:
    """How one gauge truly reads, in the SI unit of its quantity; `ranges` in the order of its ranges."""

    offset: float
    gain: float
    ranges: tuple[float, ...] = ()


@dataclass(frozen=True)
class Disturbance:
    """What is wrong in a mounting or a sweep. The default is nothing.

    Parameters
    ----------
    speed_factor : the recorded speed over the true one.
    plugged : a nozzle that is listed open but lets nothing through.
    leak : area through which the chamber's air escapes [m²].
    pressure_factor, flow_factor : the number written over the right number.
    slowing : share of its speed that the fan loses from the first to the last point, unseen by the logger.
    bore : (nozzle, its true bore [m]) where another nozzle sits in its place than the list says.
    zero_drift : how far the pressure gauge's zero moves from the first to the last point [Pa].
    """

    speed_factor: float = 1.0
    plugged: str = ""
    leak: float = 0.0
    pressure_factor: float = 1.0
    flow_factor: float = 1.0
    slowing: float = 0.0
    bore: tuple[str, float] | None = None
    zero_drift: float = 0.0


@dataclass(frozen=True)
class Chamber:
    """The chamber with its hidden errors.

    Parameters
    ----------
    seed : the laboratory's seed.
    biases : by quantity.
    nozzles : as they truly are, by name.
    """

    seed: int
    biases: dict[str, Bias] = field(repr=False)
    nozzles: dict[str, Nozzle] = field(repr=False)

    def read(self, quantity: str, true: float, draws: Draws, zero: float = 0.0) -> float:
        """What the gauge of a quantity shows, in SI, before rounding.

        Parameters
        ----------
        true : the true value.
        draws : of this point.
        zero : how far the gauge's zero has moved today.
        """
        gauge, bias = BY_QUANTITY[quantity], self.biases[quantity]
        extra = 0.0
        for (low, high, _), value in zip(gauge.ranges, bias.ranges, strict=True):
            if low <= abs(true) < high:
                extra = value
        noise = draws.normal(math.hypot(gauge.noise, gauge.noise_share * true))
        return true * bias.gain + bias.offset + extra + zero + noise

    def zero(self, day: int) -> float:
        """What the static pressure's gauge shows on a working day when nothing blows [Pa]."""
        return self.biases["static_pressure"].offset + moved_zero(self.seed, day)

    def open_set(self, flow: float, plugged: str) -> tuple[str, ...]:
        """The nozzles that the operator lists open for a flow [m³/s].

        With a nozzle plugged (unknown to the operator) the operator has chosen to keep it open together
        with N40, for all flows that the two allow, and never alone.
        """
        sets = ((SMALLEST_BESIDE,), ("N25",), (plugged, "N40")) if plugged else OPEN_SETS
        nominal = [_nominal_drop(flow, [n for n in names if n != plugged]) for names in sets]
        usable = [i for i, drop in enumerate(nominal) if 1.04 * DROP_WINDOW[0] < drop < 0.95 * DROP_WINDOW[1]]
        if plugged and usable:
            return sets[usable[-1]]
        choice = min(usable or range(len(sets)), key=lambda i: abs(math.log(nominal[i] / BEST_DROP)))
        return sets[choice]

    def across(
        self, flow: float, air: Air, gauge: float, wrong: Disturbance
    ) -> tuple[tuple[str, ...], float]:
        """The nozzles that the operator lists open for a flow [m³/s], and the true pressure across them [Pa]."""
        names = self.open_set(flow, wrong.plugged)
        found = dict(self.nozzles)
        if wrong.bore is not None:
            name, bore = wrong.bore
            found[name] = replace(found[name], bore=bore)
        return names, nozzle_drop(flow, tuple(found[n] for n in names if n != wrong.plugged), air, gauge)

    def drop(self, flow: float, names: tuple[str, ...], air: Air, gauge: float) -> float:
        """True pressure [Pa] across the named nozzles at a flow [m³/s of room air]."""
        return nozzle_drop(flow, tuple(self.nozzles[name] for name in names), air, gauge)


def build_chamber(seed: int) -> Chamber:
    """Draw the chamber's hidden errors."""
    biases = {}
    for gauge in GAUGES:
        draws = Draws(seed, f"gauge {gauge.name}")
        biases[gauge.quantity] = Bias(
            offset=gauge.offset + draws.normal(gauge.offset_u),
            gain=gauge.gain + draws.normal(gauge.gain_u),
            ranges=tuple(draws.normal(u) for _, _, u in gauge.ranges),
        )
    excess = Draws(seed, "nozzle coefficient").near_one(COEFFICIENT_U)
    nozzles = {
        name: Nozzle(name, (bore + Draws(seed, f"bore {name}").normal(BORE_U[name])) / 1000, 0.6, excess)
        for name, bore in CERTIFICATES.items()
    }
    return Chamber(seed, biases, nozzles)


def moved_zero(seed: int, day: int) -> float:
    """How far the pressure gauge's zero has moved on a working day [Pa]."""
    return Draws(seed, f"zero {day_name(day)}").normal(ZERO_SD)


def least_flow(plugged: str) -> float:
    """The smallest flow [m³/s] that the bank can measure: its smallest nozzle at the window's low end."""
    bore = CERTIFICATES[SMALLEST_BESIDE if plugged else "N12"] / 1000
    return 0.95 * math.pi * bore**2 / 4 * math.sqrt(2 * 1.1 * DROP_WINDOW[0] / 1.15)


def room_air(seed: int, number: int, occasion: str) -> Air:
    """The room's air on a working day, a little different on each occasion of that day."""
    name = day_name(number)
    day, now = Draws(seed, f"air {name}"), Draws(seed, f"air {name} {occasion}")
    return Air(
        pressure=98_500 + day.normal(600) + now.normal(40),
        temperature=273.15 + 22.2 + day.normal(0.7) + now.normal(0.25),
        humidity=min(0.65, max(0.25, 0.45 + day.normal(0.06) + now.normal(0.01))),
    )


def _nominal_drop(flow: float, names: list[str]) -> float:
    area = sum(math.pi * (CERTIFICATES[name] / 1000) ** 2 / 4 for name in names)
    return 1.16 / 2 * (flow / (0.95 * area)) ** 2
