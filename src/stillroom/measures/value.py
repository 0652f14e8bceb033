"""One measure of one mounting under one condition, with its errors by kind."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.mounted import MeasuredObstacle, MountedFan
from stillroom.core.systems import System
from stillroom.errors import Contradiction
from stillroom.measures.airflow import Found, Measure


@dataclass(frozen=True)
class Condition:
    """Under what a measure is taken: full setting, unless one of speed, duty and volts is given.

    Parameters
    ----------
    speed : a given speed [1/s]. obstacle : what the air goes through, as told by --through, or "".
    duty : a given PWM duty [1]. volts : a given supply voltage [V]. system : how fans and obstacle are arranged.

    Raises
    ------
    Contradiction : two of speed, duty and volts.
    """

    speed: float | None = None
    obstacle: str = ""
    duty: float | None = None
    volts: float | None = None
    system: System = System()

    def __post_init__(self) -> None:
        """Refuse two settings at once."""
        told = {"speed": self.speed, "duty": self.duty, "volts": self.volts}
        given = [name for name, value in told.items() if value is not None]
        if len(given) > 1:
            raise Contradiction(
                "condition", found=" and ".join(given), expected="one of them, or full setting"
            )


@dataclass(frozen=True)
class MeasuredValue:
    """A measure's value in one mounting.

    Parameters
    ----------
    value : central value, SI. low, high : ends of a range where one value would be a lie, else `value`.
    shared, noise : trials of the shared part about the value, and of the mounting's own part, (M,).
    low_shift, high_shift : trials of the ends less those of the value, (M,); zero where it is unique.
    loadings : {source: change of the value by one standard deviation of it}.
    unique, marks : what must be said beside it.
    """

    value: float
    low: float
    high: float
    shared: Array
    noise: Array
    low_shift: Array
    high_shift: Array
    loadings: dict[str, float]
    unique: bool
    marks: tuple[str, ...]


def evaluate(
    measure: Measure, fan: MountedFan, obstacle: MeasuredObstacle | None, condition: Condition
) -> MeasuredValue:
    """Take a measure from a mounted fan.

    Raises
    ------
    NotPossible : the fan's curves don't hold it (speed outside those tested, no volts and amps, no root).
    """
    resistance = None if obstacle is None else obstacle.resistance
    sources = tuple(
        dict.fromkeys(fan.characteristic.sources + (() if resistance is None else resistance.sources))
    )
    total = _found(measure, fan, obstacle, condition, Part.TOTAL, sources)
    shared = _found(measure, fan, obstacle, condition, Part.SHARED, sources)
    k = len(sources)
    value = float(total.values[0])
    return MeasuredValue(
        value=value,
        low=float(total.lowest[0]),
        high=float(total.highest[0]),
        shared=shared.values[1 + k :],
        noise=total.values[1 + k :] - shared.values[1 + k :],
        low_shift=total.lowest[1 + k :] - total.values[1 + k :],
        high_shift=total.highest[1 + k :] - total.values[1 + k :],
        loadings={name: float(total.values[1 + i]) - value for i, name in enumerate(sources)},
        unique=total.unique,
        marks=_marks(total),
    )


def _found(
    measure: Measure,
    fan: MountedFan,
    obstacle: MeasuredObstacle | None,
    condition: Condition,
    part: Part,
    sources: tuple[str, ...],
) -> Found:
    return measure.take(fan.curve(condition.speed, part, sources), obstacle, part, sources)


def _marks(found: Found) -> tuple[str, ...]:
    words = {
        "not unique": not found.unique,
        "extrapolated": found.extrapolated,
        "on a rising branch": found.rising,
    }
    return tuple(word for word, applies in words.items() if applies)
