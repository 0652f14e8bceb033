"""Facts of single runs, as the rules of quality are told them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Characteristic
from stillroom.lab.airflow.nodes import RunNode
from stillroom.quality.facts import Beside, RunFacts


def reading(node: RunNode, body: Mapping[str, Any]) -> dict[str, Any]:
    """What is known of a run without a curve, as the fields of `ReadingFacts`."""
    placed = node.placed
    row = placed.row
    return {
        "run": placed.run,
        "key": node.key,
        "file": placed.taken.file,
        "date": placed.date,
        "rig": placed.rig,
        "lines": tuple(body["lines"]),
        "setting": placed.setting,
        "setting_word": placed.setting_word,
        "flow": np.array(body["flow"]),
        "pressure": np.array(body["pressure"]),
        "speed": None if body["speed"] is None else np.array(body["speed"]),
        "power": None if body["power"] is None else np.array(body["power"]),
        "own_flow": np.array(body["own_flow"]),
        "own_pressure": np.array(body["own_pressure"]),
        "shared_flow": body["shared_flow"],
        "shared_pressure": body["shared_pressure"],
        "nozzles": tuple(tuple(filter(None, each.split("+"))) for each in body["nozzles"]),
        "read": {name: np.array(each) for name, each in body["read"].items()},
        "marks": tuple(body["marks"]),
        "low_reynolds": body["low_reynolds"],
        "density": body["density"],
        "efficiency": body["static_efficiency"],
        "setting_kind": placed.setting_kind,
        "direction": placed.direction,
        "moment": placed.moment,
        "beside": Beside()
        if row is None
        else Beside(
            zero_before=row.zero_before,
            zero_after=row.zero_after,
            warm_up=row.warm_up,
            pwm_frequency=row.pwm_frequency,
            note=row.note or "",
        ),
    }


def run_facts(
    nodes: Iterable[RunNode],
    bodies: Iterable[Mapping[str, Any]],
    arrays: Mapping[str, Array],
    curve: Characteristic,
) -> Iterator[RunFacts]:
    """The runs of a mounting as its curve has them, from what was kept of it."""
    start = 0
    checks = {each.sweep: each for each in curve.sweeps}
    for i, (node, body) in enumerate(zip(nodes, bodies, strict=True)):
        end = start + int(body["points"])
        yield RunFacts(
            **reading(node, body),
            phi=arrays["points_phi"][start:end],
            psi=arrays["points_psi"][start:end],
            reynolds=arrays["points_reynolds"][start:end],
            scatter=curve.extra_scatter[start:end],
            check=checks[i],
            held=tuple(each.index - start for each in curve.held if each.sweep == i),
        )
        start = end
