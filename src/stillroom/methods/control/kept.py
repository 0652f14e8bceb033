"""How a mounting's control behaviour is kept: plain words and numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, fields
from typing import Any

import numpy as np

from stillroom.core.control.control_mounting import (
    Behaviour,
    ControlMounting,
    Drive,
    How,
    Inrush,
    Linearity,
    OpenWire,
    Response,
    StartCount,
    Threshold,
)


def control_parts(control: ControlMounting) -> dict[str, Any]:
    """A mounting's control behaviour as a JSON object."""
    return {
        "drives": {kind: _drive_parts(each) for kind, each in control.drives.items()},
        "open_wire": asdict(control.open_wire) if control.open_wire else None,
        "inrush": asdict(control.inrush) if control.inrush else None,
        "marks": list(control.marks),
    }


def control_of(body: Mapping[str, Any]) -> ControlMounting:
    """A mounting's control behaviour from its JSON object."""
    return ControlMounting(
        drives={kind: _drive(each) for kind, each in body["drives"].items()},
        open_wire=OpenWire(**body["open_wire"]) if body["open_wire"] else None,
        inrush=Inrush(**body["inrush"]) if body["inrush"] else None,
        marks=tuple(body["marks"]),
    )


def _drive_parts(drive: Drive) -> dict[str, Any]:
    return {each.name: _plain(getattr(drive, each.name)) for each in fields(Drive)}


def _plain(value: Any) -> Any:
    if isinstance(value, Response):
        return {each.name: getattr(value, each.name).tolist() for each in fields(Response)}
    if isinstance(value, Threshold):
        return {"low": value.low, "high": value.high, "how": value.how.value}
    if isinstance(value, Behaviour):
        return value.value
    if isinstance(value, Linearity):
        return asdict(value)
    if isinstance(value, tuple):
        return [asdict(each) if isinstance(each, StartCount) else each for each in value]
    return dict(value) if isinstance(value, Mapping) else value


def _drive(told: Mapping[str, Any]) -> Drive:
    values = dict(told)
    for name in ("up", "down"):
        if told[name] is not None:
            values[name] = Response(**{part: np.array(each) for part, each in told[name].items()})
    for name in ("stop", "start"):
        if told[name] is not None:
            values[name] = Threshold(told[name]["low"], told[name]["high"], How(told[name]["how"]))
    values["starts"] = tuple(StartCount(**each) for each in told["starts"])
    values["linearity"] = Linearity(**told["linearity"]) if told["linearity"] else None
    values["behaviour"] = Behaviour(told["behaviour"]) if told["behaviour"] else None
    values["falls_back"] = tuple(told["falls_back"]) if told["falls_back"] else None
    return Drive(**values)
