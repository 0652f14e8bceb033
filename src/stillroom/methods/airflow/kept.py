"""How a mounted fan and an obstacle's resistance are kept: plain words and numbers, and arrays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from stillroom.core.characteristic import Characteristic, Estimate, HeldPoint, SweepCheck
from stillroom.core.mounted import Hysteresis, MeasuredObstacle, MountedFan, Polynomial
from stillroom.core.resistance import Law, Resistance
from stillroom.core.speeds import SettingSpeeds

Arrays = dict[str, NDArray[Any]]
_LISTS = ("sweeps", "held")
_SPEEDS = ("values", "central", "effects", "spread")


def fan_parts(fan: MountedFan) -> tuple[dict[str, Any], Arrays]:
    """A mounted fan as a JSON object and arrays."""
    values = {each.name: getattr(fan.characteristic, each.name) for each in fields(Characteristic)}
    arrays: Arrays = {name: value for name, value in values.items() if isinstance(value, np.ndarray)}
    body = {name: value for name, value in values.items() if name not in arrays and name not in _LISTS}
    body |= {name: [asdict(each) for each in values[name]] for name in _LISTS}
    for name, polynomial in (("full_speed", fan.full_speed), ("power", fan.power)):
        if polynomial is not None:
            body[f"{name}_sources"] = polynomial.sources
            for part in ("central", "effects", "noise"):
                arrays[f"{name}_{part}"] = getattr(polynomial, part)
    for each in fan.settings:
        for name in _SPEEDS:
            arrays[f"settings_{each.kind}_{name}"] = getattr(each, name)
    body["settings"] = [[each.kind, list(each.sources), each.identity] for each in fan.settings]
    if fan.hysteresis is not None:
        arrays |= {"hysteresis_phi": fan.hysteresis.phi, "hysteresis_half": fan.hysteresis.half}
    outer = {"diameter": fan.diameter, "speeds": fan.speeds, "power_terms": fan.power_terms}
    return {**outer, "curve": body}, arrays


def fan_of(body: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> MountedFan:
    """A mounted fan from its parts."""
    curve: dict[str, Any] = dict(body["curve"])
    names = {each.name for each in fields(Characteristic)} - set(_LISTS)
    values: dict[str, Any] = {
        name: np.asarray(arrays[name]) if name in arrays else _told(curve[name]) for name in names
    }
    characteristic = Characteristic(
        **values,
        sweeps=tuple(_sweep(each) for each in curve["sweeps"]),
        held=tuple(HeldPoint(**each) for each in curve["held"]),
    )
    return MountedFan(
        characteristic,
        float(body["diameter"]),
        (float(body["speeds"][0]), float(body["speeds"][1])),
        _polynomial("full_speed", curve, arrays),
        _polynomial("power", curve, arrays),
        int(body["power_terms"]),
        tuple(_settings(each, arrays) for each in curve["settings"]),
        Hysteresis(arrays["hysteresis_phi"], arrays["hysteresis_half"])
        if "hysteresis_phi" in arrays
        else None,
    )


def _settings(told: Sequence[Any], arrays: Mapping[str, NDArray[Any]]) -> SettingSpeeds:
    kind, sources, identity = told
    parts = {name: np.asarray(arrays[f"settings_{kind}_{name}"]) for name in _SPEEDS}
    return SettingSpeeds(kind=kind, sources=tuple(sources), identity=identity, **parts)


def _told(value: Any) -> Any:
    """A number, word or tuple as it was before it went through JSON."""
    return tuple(value) if isinstance(value, list) else value


def _polynomial(name: str, curve: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> Polynomial | None:
    if f"{name}_sources" not in curve:
        return None
    central, effects, noise = (
        np.asarray(arrays[f"{name}_{part}"]) for part in ("central", "effects", "noise")
    )
    return Polynomial(central, effects, noise, tuple(curve[f"{name}_sources"]))


_ESTIMATES = (
    "pressure_offset",
    "speed_drift",
    "flow_offset",
    "pressure_zero",
    "pressure_scale",
    "flow_scale",
)


def _sweep(told: Mapping[str, Any]) -> SweepCheck:
    values = dict(told)
    for name in _ESTIMATES:
        values[name] = Estimate(**values[name]) if values[name] is not None else None
    return SweepCheck(**values)


def obstacle_parts(obstacle: MeasuredObstacle) -> tuple[dict[str, Any], Arrays]:
    """An obstacle's resistance as a JSON object and arrays."""
    found = obstacle.resistance
    names = ("central", "effects", "noise", "covariance", "residuals")
    arrays: Arrays = {name: getattr(found, name) for name in names}
    body = {
        "identity": found.identity,
        "law": found.law.value,
        "sources": list(found.sources),
        "reach": list(found.reach),
        "scatter": found.scatter,
        "seed": found.seed,
        "density": obstacle.density,
        "viscosity": obstacle.viscosity,
        "parameters": [float(each) for each in found.central],
    }
    return body, arrays


def obstacle_of(body: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> MeasuredObstacle:
    """An obstacle's resistance from its parts."""
    resistance = Resistance(
        identity=str(body["identity"]),
        law=Law(body["law"]),
        central=arrays["central"],
        sources=tuple(body["sources"]),
        effects=arrays["effects"],
        noise=arrays["noise"],
        covariance=arrays["covariance"],
        reach=(float(body["reach"][0]), float(body["reach"][1])),
        scatter=float(body["scatter"]),
        residuals=arrays["residuals"],
        seed=int(body["seed"]),
    )
    return MeasuredObstacle(resistance, float(body["density"]), float(body["viscosity"]))
