"""Thermal resistance against airflow, R(Q) = R₀ + c Q^(−m), over all fans of a rig era; and who disagrees."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum

from stillroom.core.arrays import Array


@dataclass(frozen=True)
class Label:
    """Where a pair of airflow and resistance comes from.

    Parameters
    ----------
    fan : the fan. heat : its heat mounting. airflow : its airflow mounting, or the rig era.
    day : ISO date of the heat run.
    step : number of the step.
    """

    fan: str
    heat: str
    airflow: str
    day: str
    step: int = 0


class Against(Enum):
    """What a residual speaks against."""

    HEAT_RUN = "this heat run"
    HEAT_RIG = "the heat rig"
    AIRFLOW = "the airflow of this fan"
    EITHER = "heat or airflow"


@dataclass(frozen=True)
class Disagreement:
    """A group of runs that lies off the law.

    Parameters
    ----------
    against : what it speaks against. name : fan, heat mounting or day. shift, u : R measured − predicted, mean [K/W].
    z : shift over its standard uncertainty. points : how many, by number.
    """

    against: Against
    name: str
    shift: float
    u: float
    z: float
    points: tuple[int, ...]


@dataclass(frozen=True)
class FlowLaw:
    """R(Q) = R₀ + c (Q/Q₀)^(−m).

    Parameters
    ----------
    R0, c, m : parameters [K/W], [K/W], [1]. reference : Q₀ [m³/s].
    covariance : of (R₀, c, m), (3, 3). scatter : of fans about the law, standard deviation [1] of R.
    flows, resistances, predicted, u_predicted, residuals, z, weights, labels : of the points, (n,).
    reach : least and greatest flow [m³/s].
    """

    R0: float
    c: float
    m: float
    reference: float
    covariance: Array
    scatter: float
    flows: Array
    resistances: Array
    predicted: Array
    u_predicted: Array
    residuals: Array
    z: Array
    weights: Array
    labels: tuple[Label, ...]
    reach: tuple[float, float]

    def resistance(self, flow: Array | float) -> tuple[Array, Array]:
        """Resistance predicted at flows [m³/s], and its standard uncertainty with the scatter of fans [K/W]."""
        raise NotImplementedError


def fit_flow_law(
    flows: Array, u_flows: Array, resistances: Array, u: Array, labels: Sequence[Label]
) -> FlowLaw:
    """Fit the law to all fans of a rig era, robustly.

    Parameters
    ----------
    flows, u_flows : airflow and its standard uncertainty (n,) [m³/s].
    resistances, u : ΔT/P and its standard uncertainty (n,) [K/W]. labels : where each comes from.

    Raises
    ------
    NotPossible : fewer than three different flows, or flows that span less than a factor of 1.3.
    """
    raise NotImplementedError


def disagreements(law: FlowLaw, collapsing: Mapping[str, bool]) -> tuple[Disagreement, ...]:
    """Which runs lie off the law, and what they speak against.

    Parameters
    ----------
    law : fitted. collapsing : by fan, whether its airflow sweeps agree with each other.
    """
    raise NotImplementedError
