"""What is known of a rig's time constant before a step is over.

A rig stores heat in its loop, and gives it up through its radiator: τ = C/G = C R, with the heat capacity C of the
loop, the same for all fans, and the resistance R of the step. So what long steps tell of C says τ for a short one.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from stillroom.core.heat.forecast import TimeConstant
from stillroom.core.heat.heat_mounting import HeatStep, StepHow

TOLD_U = 0.25
"""Relative standard uncertainty of a time constant that is told for a rig: it differs between settings [1] (as the
resistance of a radiator does between usual settings)."""

LONG = 3.0
"""A step of so many time constants tells its own [1]."""

LEAST_U = 0.08
"""Least relative standard uncertainty of a time constant taken over from other steps [1] (common practice)."""


@dataclass(frozen=True)
class Capacity:
    """Heat capacity of a loop as its steps show it, and its standard uncertainty [J/K]."""

    value: float
    u: float

    def constant(self, resistance: float) -> TimeConstant:
        """The time constant at a resistance [K/W]."""
        tau = self.value * resistance
        return TimeConstant(tau, tau * max(LEAST_U, self.u / self.value))


def told_constant(tau: float) -> TimeConstant:
    """A time constant that the rig's record tells [s]."""
    return TimeConstant(tau, TOLD_U * tau)


def capacity_of(steps: Iterable[HeatStep]) -> Capacity | None:
    """The heat capacity of the loop by the steps that are long enough; None where none is.

    Parameters
    ----------
    steps : of one rig, reduced without a known time constant.
    """
    found = [
        (step.tau * step.nominal / step.delta_nominal, step.forecast["u_tau"] / step.tau)
        for step in steps
        if step.how is not StepHow.NOT_STEADY and step.forecast and step.tau and (step.span or 0.0) >= LONG
        and step.delta_nominal > 0.0
    ]  # fmt: skip
    if not found:
        return None
    values, relative = np.array([each for each, _ in found]), np.array([u for _, u in found])
    value = float(np.average(values, weights=1.0 / np.maximum(relative, LEAST_U) ** 2))
    scatter = float(values.std()) if len(values) > 1 else 0.0
    return Capacity(value, max(scatter, float(relative.min()) * value))


def resistance_of(step: HeatStep) -> float | None:
    """The resistance of a step that need not be over, by where it stands [K/W]; None where it tells none."""
    rise = step.delta_nominal if step.is_result else step.delta
    return rise / step.nominal if np.isfinite(rise) and rise > 0.0 and step.nominal > 0.0 else None
