"""A mounting's level or heat along its speeds, as checks and bridges of a rig read it: value, errors, and reach."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.heat.heat_curve import SLOPE
from stillroom.errors import NotPossible
from stillroom.lab.curves import result_of
from stillroom.lab.heat.loading import load_heat
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.sound.loading import load_sound
from stillroom.lab.sound.nodes import SoundNode
from stillroom.measures.heat import HEAT
from stillroom.measures.sound import LEVEL
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result

CurveOfSpeed: TypeAlias = SoundNode | HeatNode
"""A mounting whose result is a curve against speed."""

BESIDE = 0.1
"""How far from the speeds measured the usual laws bridge [1]."""

LEVEL_SLOPE = 53.0
"""Level against speed beside what was heard [dB per decade] (common practice: 50 to 56)."""


@dataclass(frozen=True)
class Along:
    """A curve against speed as it is read for a check.

    Parameters
    ----------
    measure : level or heat. speeds : rising, (g,) [1/s]. central : (g,), in the measure's unit.
    sources : k shared ones. effects : by one standard deviation of each, (k, g).
    reading_u : standard uncertainty by readings alone. reach : least and greatest speed measured [1/s].
    """

    measure: str
    speeds: Array
    central: Array
    sources: tuple[str, ...]
    effects: Array
    reading_u: float
    reach: tuple[float, float]

    def at(self, speed: float) -> float:
        """The value at a speed [1/s]; beside what was measured by the usual exponent.

        Raises
        ------
        NotPossible : the speed lies further from those measured than that bridges.
        """
        low, high = self.reach
        if not low * (1.0 - BESIDE) <= speed <= high * (1.0 + BESIDE):
            raise NotPossible(
                f"{self.measure} at {speed * 60:,.0f} rpm",
                found=f"measured from {low * 60:,.0f} to {high * 60:,.0f} rpm",
                expected="a speed within a tenth of these",
            )
        near = min(max(speed, low), high)
        return _BESIDE[self.measure](float(np.interp(near, self.speeds, self.central)), speed / near)

    def loadings(self, speed: float) -> dict[str, float]:
        """What one standard deviation of each shared source moves the value by."""
        return {
            name: float(np.interp(speed, self.speeds, effect))
            for name, effect in zip(self.sources, self.effects, strict=True)
        }


_BESIDE: dict[str, Callable[[float, float], float]] = {
    LEVEL: lambda level, ratio: level + LEVEL_SLOPE * math.log10(ratio),
    HEAT: lambda rise, ratio: rise * ratio**SLOPE,
}


def along_of(lab: Lab, node: CurveOfSpeed) -> Along:
    """A mounting's curve as checks and bridges read it.

    Raises
    ------
    NotPossible : it was not reduced, could not be had, or no speed was read.
    """
    return _heat(lab, node) if isinstance(node, HeatNode) else _level(lab, node)


def _heat(lab: Lab, node: HeatNode) -> Along:
    curve = load_heat(lab.path, result_of(lab, node)).curve
    if curve is None:
        raise NotPossible(f"heat of {node.subject}", found="no speed read", expected="a tachometer channel")
    own = min(each.u for each in curve.points)
    return Along(HEAT, curve.speeds, curve.central, curve.sources, curve.effects, own, curve.measured)


def _level(lab: Lab, node: SoundNode) -> Along:
    """From the curve of level against speed; a check of one dwell has none, and is that dwell."""
    result = results.get(lab.database, node.key)
    if result is not None and result.failed and (dwell := _only_dwell(result)):
        return dwell
    sound = load_sound(lab.path, result_of(lab, node))
    curve = sound.levels
    own = min((each.u for each in sound.dwells if not each.is_bound), default=0.0)
    return Along(LEVEL, curve.speeds, curve.central, curve.sources, curve.effects, own, curve.reach)


ONE_DWELL_U = 0.1
"""Standard uncertainty of one dwell's reading where no curve tells it [dB] (common practice)."""


def _only_dwell(result: Result) -> Along | None:
    dwells = [
        each
        for each in result.body.get("recordings", ())
        if each["what"] == "dwell" and each.get("level_corrected") is not None and not each.get("failed")
    ]
    if len(dwells) != 1 or not dwells[0]["speed"].get("used") or dwells[0]["is_bound"]:
        return None
    speed, level = float(dwells[0]["speed"]["used"]), float(dwells[0]["level_corrected"])
    return Along(
        LEVEL, np.array([speed]), np.array([level]), (), np.zeros((0, 1)), ONE_DWELL_U, (speed, speed)
    )
