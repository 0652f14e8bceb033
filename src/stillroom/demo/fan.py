"""Invented fans and obstacles: how they behave, in closed form.

A fan moves Q = k_q n q against p = k_p n² (ρ/1.2) g(q), with q from 0 (shut off) to 1 (free delivery);
k_q and k_p grow slightly with speed, as a Reynolds number's effect does.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from enum import Enum

from stillroom.demo.air import STANDARD_DENSITY, STANDARD_VISCOSITY, Air

REFERENCE_SPEED = 1500 / 60
"""The speed at which k_q and k_p are stated [1/s]."""


SUPPLY = 12.0
"""Supply voltage [V]."""
PWM_FREQUENCY = 25_000.0
"""Frequency at which 4-wire fans are controlled [Hz]."""
SLOW_PWM = 10_000.0
"""Below this the fan's input filter no longer smooths the duty, and it takes a low duty for a higher one [Hz]."""
MISREAD = 0.86
"""The duty that the fan takes a slow generator's for is its power with this exponent."""


class Control(Enum):
    """How a fan's speed is set: by the duty of its control wire, or by its supply voltage."""

    DUTY = "duty"
    VOLTS = "volts"


@dataclass(frozen=True, order=True)
class Setting:
    """One setting of the speed control: a duty [%] or a voltage [V]."""

    value: float
    control: Control = field(default=Control.DUTY, compare=False)

    @property
    def words(self) -> str:
        """As people write it."""
        return f"{self.value:g} %" if self.control is Control.DUTY else f"{self.value:g} V"

    @property
    def name(self) -> str:
        """As a file's name has it."""
        return f"{self.value:g}pct" if self.control is Control.DUTY else f"{self.value:g}V"


@dataclass(frozen=True)
class Shape:
    """The shape g(q) of a fan's pressure curve: a falling curve with a dip where the blades stall.

    g = 1 − a q − (1 − a) q^m − d·4q(1 − q)·exp(−((q − q_s)/w)²/2), so that g(0) = 1 and g(1) = 0.
    """

    a: float
    m: float
    dip: float
    dip_at: float
    dip_width: float

    def __call__(self, q: float) -> float:
        """Pressure as a share of the shut-off pressure."""
        stall = 4 * q * (1 - q) * math.exp(-(((q - self.dip_at) / self.dip_width) ** 2) / 2)
        steep: float = q**self.m
        return 1 - self.a * q - (1 - self.a) * steep - self.dip * stall


@dataclass(frozen=True)
class Fan:
    """One fan, model or single sample.

    Parameters
    ----------
    name, maker, size, thickness : as in the table of fans; size and thickness [m].
    blades, wires, pulses : counts; `pulses` per revolution of the tachometer wire.
    k_q : free airflow over speed at 1,500 rpm [m³].
    k_p : shut-off pressure over speed squared at 1,500 rpm and 1.2 kg/m³ [Pa·s²].
    shape : of the pressure curve.
    reynolds : exponent with which k_q and k_p grow with speed.
    full_speed, lowest_speed : at free delivery, at 100 % duty and at the lowest duty that turns it [1/s].
    dead_duty : duty up to which the fan keeps its lowest speed (0 to 1).
    duty_power : exponent of speed over duty.
    sag : share of its speed that the fan loses from free delivery to shut-off.
    idle, rubbing, cubic : electrical power P = idle + rubbing·n + cubic·n³ [W, W·s, W·s³].
    dead_volts : voltage at which a fan without a control wire would stand still [V].
    """

    name: str
    maker: str
    size: float
    thickness: float
    blades: int
    wires: int
    pulses: int
    k_q: float
    k_p: float
    shape: Shape
    reynolds: float
    full_speed: float
    lowest_speed: float
    dead_duty: float
    duty_power: float
    sag: float
    idle: float
    rubbing: float
    cubic: float
    dead_volts: float = 2.0

    @property
    def control(self) -> Control:
        """By duty where it has a control wire, by its supply voltage where it has none."""
        return Control.DUTY if self.wires == 4 else Control.VOLTS

    def free_speed(self, setting: Setting, frequency: float = PWM_FREQUENCY) -> float:
        """Speed at free delivery [1/s] at a setting; `frequency` is that of the generator [Hz]."""
        if setting.control is Control.VOLTS:
            return self.full_speed * (setting.value - self.dead_volts) / (SUPPLY - self.dead_volts)
        duty = setting.value / 100
        return self.set_speed(duty if frequency >= SLOW_PWM else duty**MISREAD)

    def set_speed(self, duty: float) -> float:
        """Speed at free delivery [1/s] at a duty (0 to 1)."""
        share: float = max(0.0, (duty - self.dead_duty) / (1 - self.dead_duty)) ** self.duty_power
        return self.lowest_speed + (self.full_speed - self.lowest_speed) * share

    def loaded_speed(self, free_speed: float, q: float) -> float:
        """Speed [1/s] of a fan that would turn at `free_speed` at free delivery."""
        return free_speed * (1 - self.sag * (1 - q))

    def flow(self, q: float, speed: float) -> float:
        """Airflow [m³/s] at opening q and speed [1/s]."""
        return self.k_q * speed * self._growth(speed) * q

    def pressure(self, q: float, speed: float, density: float = STANDARD_DENSITY) -> float:
        """Static pressure [Pa] at opening q, speed [1/s] and density [kg/m³]."""
        scale = self.k_p * speed**2 * self._growth(speed) * density / STANDARD_DENSITY
        return scale * self.shape(q)

    def power(self, q: float, speed: float, density: float = STANDARD_DENSITY) -> float:
        """Electrical power [W]; a tenth more at shut-off than at free delivery."""
        turning = self.cubic * speed**3 * density / STANDARD_DENSITY * (1 + 0.1 * (1 - q))
        return self.idle + self.rubbing * speed + turning

    def varied(self, *, speed: float = 1.0, k_q: float = 1.0, k_p: float = 1.0) -> Fan:
        """This fan with factors on its speeds, airflow and pressure: a sample, or one mounting of it."""
        return replace(
            self,
            k_q=self.k_q * k_q,
            k_p=self.k_p * k_p,
            full_speed=self.full_speed * speed,
            lowest_speed=self.lowest_speed * speed,
        )

    def _growth(self, speed: float) -> float:
        return float((speed / REFERENCE_SPEED) ** self.reynolds)


@dataclass(frozen=True)
class Obstacle:
    """Something in the way of the air: Δp = a Q + b Q² at 1.2 kg/m³ and 20 °C.

    Parameters
    ----------
    name, version, kind, description : as in the table of obstacles.
    tile : side of the opening [m].
    a : [Pa/(m³/s)]; grows with viscosity.
    b : [Pa/(m³/s)²]; grows with density.
    several : whether it was exchanged, so that there are several versions of it.
    """

    name: str
    version: str
    kind: str
    description: str
    tile: float
    a: float
    b: float
    several: bool = False

    def drop(self, flow: float, air: Air | None = None) -> float:
        """Pressure drop [Pa] at a flow [m³/s]; at standard conditions where no air is given."""
        if air is None:
            return self.a * flow + self.b * flow**2
        thickness = air.viscosity / STANDARD_VISCOSITY
        return self.a * thickness * flow + self.b * air.density / STANDARD_DENSITY * flow**2


@dataclass(frozen=True)
class Crossing:
    """One place where a fan's curve meets a load line.

    Parameters
    ----------
    flow : [m³/s]. speed : [1/s]. pressure : [Pa].
    stable : whether the fan stays there (its pressure less the load's falls with flow).
    """

    flow: float
    speed: float
    pressure: float
    stable: bool


def crossings(
    fan: Fan, load: Callable[[float], float], *, free_speed: float, sagging: bool
) -> tuple[Crossing, ...]:
    """All places where a fan's curve at standard density meets a load line Δp(Q), by bisection.

    Parameters
    ----------
    load : pressure drop [Pa] over flow [m³/s].
    free_speed : speed at free delivery [1/s].
    sagging : whether the fan slows down under load (fixed duty) or is held at that speed.
    """

    def speed(q: float) -> float:
        return fan.loaded_speed(free_speed, q) if sagging else free_speed

    def surplus(q: float) -> float:
        n = speed(q)
        return fan.pressure(q, n) - load(fan.flow(q, n))

    steps = 400
    found = []
    low, at_low = 0.0, surplus(0.0)
    for i in range(1, steps + 1):
        high = i / steps
        at_high = surplus(high)
        if (at_low > 0) != (at_high > 0):
            q = _bisect(surplus, low, high)
            n = speed(q)
            found.append(Crossing(fan.flow(q, n), n, fan.pressure(q, n), stable=at_low > 0))
        low, at_low = high, at_high
    return tuple(found)


def _bisect(function: Callable[[float], float], low: float, high: float) -> float:
    positive = function(low) > 0
    for _ in range(50):
        middle = (low + high) / 2
        if (function(middle) > 0) == positive:
            low = middle
        else:
            high = middle
    return (low + high) / 2
