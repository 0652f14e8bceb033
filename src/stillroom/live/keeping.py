"""What has passed stays so until the readings speak against it: noise about a limit takes no word back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from stillroom.core.heat.heat_mounting import HeatStep, StepHow
from stillroom.core.heat.steady import EXPANDED

KEPT = 3.0
"""An accepted forecast stays so until its interval reaches this many times as far as what was accepted."""


def half_width(told: Mapping[str, Any]) -> float:
    """How far the 95 % interval of a forecast reaches [K]."""
    return float(max(told["high"] - told["final"], told["final"] - told["low"]))


@dataclass
class Keeping:
    """One step's word while it is held.

    Parameters
    ----------
    tolerance : of steadiness [K]. accept : a forecast that reaches no further passes [K]; None where none does.
    steady, accepted : the step as it was when it was last steady, or its forecast last narrow enough; None before.
    """

    tolerance: float
    accept: float | None
    steady: HeatStep | None = None
    accepted: HeatStep | None = None

    def take(self, step: HeatStep) -> HeatStep:
        """The step as it counts now; `steady` and `accepted` tell afterwards what it is still."""
        told = step.forecast
        if step.how is StepHow.STEADY:
            self.steady = step
        elif self.steady is not None and self._moves(step):
            self.steady = None
        if told is not None and self.accept is not None and half_width(told) <= self.accept:
            self.accepted = step
        elif self.accepted is not None and self._contradicts(step):
            self.accepted = None
        return _with_value_of(step, self.steady or self.accepted)

    def _moves(self, step: HeatStep) -> bool:
        """Whether a step that was steady is proven not to be: it drifts by more than the tolerance for sure."""
        found = step.steadiness
        if found is None:
            return False
        drift = (abs(found["slope"]) - EXPANDED * found["u_slope"]) * found["tau"]
        return bool(drift > self.tolerance)

    def _contradicts(self, step: HeatStep) -> bool:
        """Whether the readings speak against a forecast that was accepted."""
        told, before = step.forecast, self.accepted.forecast if self.accepted else None
        if told is None or before is None or self.accept is None:
            return False
        apart = told["low"] > before["high"] or told["high"] < before["low"]
        return apart or half_width(told) > KEPT * self.accept


def _with_value_of(step: HeatStep, before: HeatStep | None) -> HeatStep:
    """A step that has no value just now with the one that it had when it passed."""
    if before is None or step.is_result or not np.isfinite(before.delta_nominal):
        return step
    return replace(
        step,
        how=before.how,
        delta_nominal=before.delta_nominal,
        u_own=before.u_own,
        conductance=before.conductance,
        steadiness=before.steadiness,
        forecast=before.forecast,
        tau=before.tau,
        span=step.span or before.span,
    )
