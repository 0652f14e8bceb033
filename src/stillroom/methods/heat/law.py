"""How a law of resistance against airflow is kept, and its points beside what it predicts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any

import numpy as np

from stillroom.core.heat.flow_law import FlowLaw, Label

_ARRAYS = ("covariance", "flows", "resistances", "predicted", "u_predicted", "residuals", "u_own", "z")


@dataclass(frozen=True)
class LawPoint:
    """One step beside what the law of all other fans predicts from its airflow.

    Parameters
    ----------
    fan, mounting, step : which. day : ISO date. flow : through the whole radiator [m³/s].
    measured, predicted, u_predicted : thermal resistance [K/W]. z : their difference over its standard uncertainty [1].
    """

    fan: str
    mounting: str
    step: int
    day: str
    flow: float
    measured: float
    predicted: float
    u_predicted: float
    z: float


def law_parts(law: FlowLaw) -> dict[str, Any]:
    """A law as a JSON object."""
    values = {each.name: getattr(law, each.name) for each in fields(FlowLaw)}
    values |= {name: values[name].tolist() for name in _ARRAYS}
    return values | {"labels": [asdict(each) for each in law.labels], "reach": list(law.reach)}


def law_of(told: Mapping[str, Any]) -> FlowLaw:
    """A law from its JSON object."""
    values = dict(told) | {name: np.array(told[name], dtype=np.float64) for name in _ARRAYS}
    values["labels"] = tuple(Label(**each) for each in told["labels"])
    values["reach"] = tuple(told["reach"])
    return FlowLaw(**values)


def points_of(law: FlowLaw) -> tuple[LawPoint, ...]:
    """The points of a law."""
    columns = (law.flows, law.resistances, law.predicted, law.u_predicted, law.z)
    return tuple(
        LawPoint(label.fan, label.heat, label.step, label.day, *map(float, row))
        for label, row in zip(law.labels, zip(*columns, strict=True), strict=True)
    )
