"""What is kept of a fan's value, whatever it was measured by, so that it can be traced."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from stillroom.compare.candidates import Candidate
from stillroom.core.combine import FanValue
from stillroom.core.intervals import coverage_interval
from stillroom.core.spread import Spreads
from stillroom.core.systems import System
from stillroom.lab.question import Question
from stillroom.store.results import Result

READINGS = "readings"
"""The source under which a mounting's own readings stand among the contributions to a variance."""

MOST_SOURCES = 10


@dataclass(frozen=True)
class Uncertainty:
    """How sure a value is.

    Parameters
    ----------
    variance : squared standard uncertainty. squares : what of it comes from which source.
    spreads : by which its mountings were combined. unit : of the spreads, "" where they are shares of the value.
    """

    variance: float
    squares: Mapping[str, float]
    spreads: Spreads
    unit: str = ""

    @classmethod
    def of(cls, combined: FanValue, spreads: Spreads, unit: str = "") -> Uncertainty:
        """That of a value combined from mountings."""
        squares = {name: loading**2 for name, loading in combined.loadings.items()}
        squares[READINGS] = combined.own_variance
        return cls(combined.variance, squares, spreads, unit)


def kept_value(
    candidate: Candidate,
    question: Question,
    uncertainty: Uncertainty,
    *,
    inputs: Mapping[str, Mapping[str, str] | str],
    each: Mapping[str, float],
    **beside: Any,
) -> Result:
    """The result that is kept of a fan's value.

    Parameters
    ----------
    inputs : what it hangs on, by role: of mountings {name: key}. each : {mounting: its value}.
    beside : what else is kept of it, by name.
    """
    low, high = (
        float(coverage_interval(candidate.low_trials)[0]),
        float(coverage_interval(candidate.high_trials)[1]),
    )
    measure, spreads = question.measure, uncertainty.spreads
    body = {
        "value": candidate.value,
        "low": low,
        "high": high,
        "bound": candidate.bound.value,
        "unit": measure.quantity,
        "condition": condition_told(question),
        "samples": candidate.samples,
        "mountings": candidate.mountings,
        "standard_uncertainty": math.sqrt(uncertainty.variance),
        "contributions": contributions(uncertainty.squares),
        "spread": {
            **dict(
                zip(("mounting", "mounting_dof", "sample", "sample_dof"), spread_told(spreads), strict=True)
            ),
            "absolute": bool(uncertainty.unit),
            "unit": uncertainty.unit,
        },
        "marks": list(candidate.marks),
        "each": dict(each),
        **beside,
    }
    roles = {"values": {}, "curves": {}, "obstacle": {}, "bridges": {}, **inputs}
    method = f"{measure.name} {measure.version}"
    return Result(candidate.key, "value", candidate.fan, roles, method, False, body)


def spread_told(spreads: Spreads) -> list[float]:
    """Spreads as a part of a key."""
    return [spreads.mounting.sd, spreads.mounting.dof, spreads.sample.sd, spreads.sample.dof]


def condition_told(question: Question) -> dict[str, Any]:
    """The condition as it is kept beside a value: only what was told."""
    asked, system = question.condition, question.condition.system
    told = {"duty": asked.duty, "volts": asked.volts, "noise": asked.noise, "sone": asked.sone,
            "for flow": asked.for_flow, "for heat": asked.for_heat}  # fmt: skip
    around = {name: value for name, value in asdict(system).items() if value != getattr(System(), name)}
    through = {"through": question.through.words} if question.through.words else {}
    return {"speed": asked.speed, "obstacle": asked.obstacle, **through, **_given(told), **around}


def _given(told: Mapping[str, float | None]) -> dict[str, float]:
    return {name: value for name, value in told.items() if value is not None}


def contributions(squares: Mapping[str, float]) -> dict[str, float]:
    """The greatest contributions to a variance, as shares, by source."""
    total = sum(squares.values()) or 1.0
    order = sorted(squares, key=lambda name: -squares[name])[:MOST_SOURCES]
    return {name: squares[name] / total for name in order if squares[name] > 0.0}
