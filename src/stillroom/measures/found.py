"""What a measure finds in the rows of a curve, and the forms that all measures share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.mounted import Curve
from stillroom.core.multiple import Merit
from stillroom.core.systems import Load
from stillroom.errors import NotPossible

SLACK = 0.01
"""A value this far beyond the readings still counts as read [1]."""

STRAY = 0.01
"""Share of trials that may pass the end of the curve followed; they count as lying at its end [1]."""

ENDS = 0.025
"""The same where the last reading is free delivery itself, its pressure zero within its uncertainty: up to so many the
upper end of a 95 % interval lies before the end of the curve, and is what it would be on a longer one [1]."""


@dataclass(frozen=True)
class Found:
    """A measure in every row, with what must be said beside it.

    Parameters
    ----------
    values : (rows,), SI. lowest, highest : the same where one value would be a lie, else equal to `values`.
    unique : whether one value stands for it. extrapolated : whether it lies beyond the readings.
    rising : whether the operating point lies on a rising branch of the curve.
    hysteresis : whether sweeps up and down differ there, which makes it a range.
    marks : what else must be said.
    """

    values: Array
    lowest: Array
    highest: Array
    unique: bool = True
    extrapolated: bool = False
    rising: bool = False
    hysteresis: bool = False
    marks: tuple[str, ...] = ()


Take = Callable[[Curve, Load | None, Part, tuple[str, ...]], Found]


def no_curve(_curve: Curve, _load: Load | None, _part: Part, _sources: tuple[str, ...]) -> Found:
    """What is not taken from a curve of pressure against flow.

    Raises
    ------
    NotPossible : always.
    """
    raise NotPossible(
        "measure", found="a curve of pressure against flow", expected="the sound or the heat runs of the fan"
    )


class Origin(Enum):
    """What a measure is taken from."""

    CURVE = "pressure against flow"
    NEEDED = "pressure against flow, for a given airflow"
    SOUND = "level against speed"
    LIMIT = "level against speed, at a noise limit"
    HEAT = "temperature rise against speed"
    CONTROL = "speed against duty or voltage"


@dataclass(frozen=True)
class Measure:
    """A measure as it is published.

    Parameters
    ----------
    name : as given on the command line. title : as readers see it. definition : in one sentence.
    version : raised when the same curve would give another number.
    quantity : the vocabulary's quantity of its values. merit : which direction is better.
    through : whether it needs an obstacle. take : the function that takes it from a curve.
    claim : what the best fan does, as a sentence goes on after its name.
    crosses : whether it is taken between readings, where the curve crosses lines of its own.
    absolute : whether its spreads and its margin are told in its unit (dB, K), not as shares of the value.
    origin : what it is taken from.
    """

    name: str
    title: str
    definition: str
    version: int
    quantity: str
    merit: Merit
    through: bool
    take: Take
    claim: str
    crosses: bool = False
    absolute: bool = False
    origin: Origin = Origin.CURVE

    @property
    def has_zero(self) -> bool:
        """Whether its values have a zero from which a bar may start: a level has none."""
        return self.quantity != "sound_level"

    @property
    def spread_unit(self) -> str:
        """The unit in which absolute spreads and margins are told; "" where they are shares of the value."""
        units = {"sound_level": "dB", "temperature_difference": "K"}
        return units[self.quantity] if self.absolute else ""


def reach_of(curve: Curve) -> tuple[float, float]:
    """Least and greatest φ that count as read."""
    low, high = curve.fan.characteristic.reach
    return low, high * (1.0 + SLACK)


@dataclass(frozen=True)
class Sought:
    """What is sought on a curve, for the words where it isn't there.

    Parameters
    ----------
    thing : what it is. last : what the last reading says, in words. needed : which reading would help.
    """

    thing: str
    last: str
    needed: str


def with_strays(
    values: Array, missing: NDArray[np.bool_], end: float, sought: Sought, fixed: int, share: float = STRAY
) -> Array:
    """The values of all rows; a stray trial without one lies at the end of the curve.

    Parameters
    ----------
    values : (rows,). missing : rows without a value. end : abscissa at which the curve ends.
    fixed : how many rows before the trials must have a value of their own. share : of trials that may stray [1].

    Raises
    ------
    NotPossible : a fixed row, or more than a stray trial, has none.
    """
    lost = float(missing[fixed:].mean()) if len(missing) > fixed else 0.0
    if missing[:fixed].any() or lost > share:
        trials = f"in {100 * lost:.{0 if lost >= 0.01 else 1}f} % of the trials "
        whose = "the curve" if missing[0] else f"{trials if lost else 'within its uncertainty '}the curve"
        raise NotPossible(
            sought.thing,
            found=f"{sought.last} and {whose} doesn't reach it from there",
            expected=sought.needed,
        )
    return np.where(missing, end, values)
