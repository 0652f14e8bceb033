"""What stands around one fan: more fans, a larger obstacle, thinner or warmer air.

One tested fan and one measured piece of an obstacle answer for a whole system by laws that are stated here.
Nothing but the push-pull factor knows of fans disturbing each other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.draws import normal_draws
from stillroom.core.mounted import Curve, MeasuredObstacle
from stillroom.core.resistance import in_parallel
from stillroom.core.room_air import STANDARD_AIR, Air, room_air
from stillroom.errors import BadInput

MOST_FANS = 100
HIGHEST_FACTOR = 1.5
ALTITUDES = (-500.0, 5000.0)
"""Altitudes of rooms that are reckoned with [m]."""

TEMPERATURES = (253.15, 333.15)
"""Temperatures of a room's air that are reckoned with [K]."""


@dataclass(frozen=True)
class System:
    """How fans and obstacle are arranged, and in which air; the usual values are one fan in standard air.

    Parameters
    ----------
    beside : number of equal fans side by side: flows add at equal pressure.
    tiles : the obstacle's area in pieces as measured: flow through each is the total over `tiles`.
    push_pull : interaction factor F of two fans behind each other, pressure × 2 F at equal flow; None for one.
    push_pull_u : standard uncertainty of the factor [1].
    altitude : of the room [m], None for standard air. temperature : of the air [K], None for 20 °C.

    Raises
    ------
    BadInput : a value that no system can have.
    """

    beside: int = 1
    tiles: float = 1.0
    push_pull: float | None = None
    push_pull_u: float = 0.0
    altitude: float | None = None
    temperature: float | None = None

    def __post_init__(self) -> None:
        """Refuse what can't be."""
        _within("fans side by side", float(self.beside), 1.0, float(MOST_FANS))
        _within("tiles", self.tiles, 1.0 / MOST_FANS, float(MOST_FANS))
        if self.push_pull is not None:
            _within("push-pull factor", self.push_pull, 0.05, HIGHEST_FACTOR)
            _within("uncertainty of the push-pull factor", self.push_pull_u, 0.0, self.push_pull / 2.0)
        if self.altitude is not None:
            _within("altitude [m]", self.altitude, *ALTITUDES)
        if self.temperature is not None:
            _within("air temperature [K]", self.temperature, *TEMPERATURES)

    @property
    def fans(self) -> int:
        """How many fans there are in all."""
        return self.beside * (1 if self.push_pull is None else 2)

    @property
    def push_pull_limits(self) -> float:
        """The limits ± of the factor as they are stated: those of a rectangular distribution [1]."""
        return round(self.push_pull_u * math.sqrt(3.0), 9)

    @property
    def is_single(self) -> bool:
        """Whether it is one fan on the piece as measured, in standard air."""
        return self == System()

    @property
    def air(self) -> Air:
        """The air in which it runs."""
        return room_air(self.altitude, self.temperature)


def _within(thing: str, value: float, low: float, high: float) -> None:
    if not (math.isfinite(value) and low <= value <= high):
        raise BadInput(thing, found=f"{value:g}", expected=f"{low:g} to {high:g}")


PUSH_PULL_SOURCE = "stated/push-pull factor"


def arranged(curve: Curve, system: System, part: Part, sources: tuple[str, ...]) -> Curve:
    """The curve of all fans of a system, from one fan's in the system's air.

    Parameters
    ----------
    curve : of one fan.
    system : fans side by side add their flows at equal pressure; two behind each other give 2 F times the
        pressure at equal flow. The factor's uncertainty is a shared source of its own.
    part, sources : of the curve's rows.

    Limits
    ------
    Equal fans share the flow evenly: where a curve has a saddle they need not. Fans side by side don't disturb
    each other here.
    """
    if system.push_pull is not None:
        factor = np.full(len(curve.pressure), 2.0 * system.push_pull)
        if system.push_pull_u > 0.0 and len(factor) > 1:
            u, k = 2.0 * system.push_pull_u, len(sources)
            factor[1 + sources.index(PUSH_PULL_SOURCE)] += u
            if part is not Part.CENTRAL:
                trials = len(factor) - 1 - k
                seed = curve.fan.characteristic.seed
                factor[1 + k :] += u * normal_draws(PUSH_PULL_SOURCE, trials, seed)
        half = None if curve.half is None else curve.half * factor[:, None]
        curve = replace(curve, pressure=curve.pressure * factor[:, None], half=half, stages=2)
    if system.beside > 1:
        curve = replace(curve, flow=curve.flow * system.beside, beside=system.beside)
    return curve


@dataclass(frozen=True)
class StatedResistance:
    """A resistance that was stated, not measured: Δp = aQ + bQ² in standard air.

    Parameters
    ----------
    words : as it was told. linear : a [Pa/(m³/s)]. quadratic : b [Pa/(m³/s)²]; neither below zero, not both zero.

    Raises
    ------
    BadInput : parameters that no resistance has.
    """

    words: str
    linear: float
    quadratic: float

    def __post_init__(self) -> None:
        """Refuse what can't be."""
        told = (self.linear, self.quadratic)
        if not all(math.isfinite(each) and each >= 0.0 for each in told) or not any(told):
            raise BadInput("resistance", found=repr(self.words), expected="a drop that rises with flow")

    @property
    def sources(self) -> tuple[str, ...]:
        """A statement has no errors."""
        return ()

    @property
    def reach(self) -> float:
        """It holds at any flow [m³/s]."""
        return math.inf

    def drop(self, flow: Array, _part: Part, _sources: tuple[str, ...], air: Air = STANDARD_AIR) -> Array:
        """Pressure drop in an air (rows, g) [Pa]; a goes with the viscosity, b with the density."""
        at = flow if flow.ndim == 2 else flow[None, :]
        a = self.linear * air.viscosity / STANDARD_AIR.viscosity
        return np.asarray(a * at + self.quadratic * air.density / STANDARD_AIR.density * at**2)


Piece = MeasuredObstacle | StatedResistance
Stack = tuple[Piece, ...]
"""Pieces behind each other: their drops add at equal flow."""

SPLIT_GRID = 600


@dataclass(frozen=True)
class Load:
    """What the air of a system goes through.

    Parameters
    ----------
    stacks : side by side, each of pieces behind each other; flows add at equal pressure drop.
    tiles : area in pieces as measured. air : in which it stands.

    Limits
    ------
    Drops of pieces behind each other add without disturbing each other, as at some distance.
    """

    stacks: tuple[Stack, ...]
    tiles: float = 1.0
    air: Air = STANDARD_AIR

    @property
    def pieces(self) -> Stack:
        """All pieces."""
        return tuple(piece for stack in self.stacks for piece in stack)

    @property
    def sources(self) -> tuple[str, ...]:
        """Identities of all shared sources of the measured pieces."""
        return tuple(dict.fromkeys(source for piece in self.pieces for source in piece.sources))

    def drop(self, flow: Array, part: Part, sources: tuple[str, ...]) -> Array:
        """Pressure drop (rows, g) [Pa] at the system's flow ≥ 0 [m³/s], (g,) or (rows, g)."""
        each = flow / self.tiles
        if len(self.stacks) == 1:
            return self._stack(self.stacks[0], each, part, sources)
        grid = np.linspace(0.0, float(each.max()), SPLIT_GRID)
        common = in_parallel(grid, tuple(self._stack(stack, grid, part, sources) for stack in self.stacks))
        if each.ndim == 1:
            return np.stack([np.interp(each, grid, row) for row in common])
        rows = np.broadcast_to(common, (len(each), len(grid)))
        return np.stack([np.interp(at, grid, row) for at, row in zip(each, rows, strict=True)])

    def _stack(self, stack: Stack, flow: Array, part: Part, sources: tuple[str, ...]) -> Array:
        drops = [piece.drop(flow, part, sources, self.air) for piece in stack]
        return drops[0] if len(drops) == 1 else np.asarray(sum(drops[1:], start=drops[0]))

    def is_beyond(self, flow: float, slack: float) -> bool:
        """Whether a flow [m³/s] through the system lies beyond the readings of a piece by more than `slack` [1]."""
        each = flow / self.tiles
        if len(self.stacks) == 1:
            return any(each > piece.reach * (1.0 + slack) for piece in self.stacks[0])
        drop = float(self.drop(np.array([flow]), Part.CENTRAL, ())[0, 0])
        grid = np.linspace(0.0, each, SPLIT_GRID)
        for stack in self.stacks:
            own = float(np.interp(drop, self._stack(stack, grid, Part.CENTRAL, ())[0], grid))
            if any(own > piece.reach * (1.0 + slack) for piece in stack):
                return True
        return False
