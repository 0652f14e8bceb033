"""Facts of single runs and of claims, as the rules of quality are told them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import numpy as np

from stillroom.compare.printed import Place, read_printed, subject_of
from stillroom.core.arrays import Array
from stillroom.core.characteristic import Characteristic
from stillroom.lab.recipes import RunNode
from stillroom.quality.facts import Beside, ClaimFacts, RunFacts
from stillroom.records.products import Claim
from stillroom.vocabulary import is_unit, to_si, unit


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


def claim_facts(claim: Claim) -> ClaimFacts:
    """A claim with what it speaks of, or why it can't be checked here."""
    named = subject_of(claim.quantity)
    printed = read_printed(claim.condition or "")
    if named is None:
        return ClaimFacts(claim, claim.quantity, "", claim.value, 0.0, "quantity not known")
    subject, place = named
    if not is_unit(claim.unit) or unit(claim.unit).dimension != subject.dimension:
        return ClaimFacts(claim, subject.title, subject.dimension, claim.value, 0.0, "unit not known")
    tolerance = claim.tolerance if claim.tolerance is not None else printed.tolerance or 0.0
    value = to_si(claim.value, claim.unit)
    where = printed.place or place
    wanted = {"flow": Place.FREE, "pressure": Place.SHUT}.get(subject.dimension, where)
    why = ""
    if printed.unknown:
        why = f"condition not understood: {', '.join(printed.unknown)}"
    elif where is not wanted:
        why = f"not printed at {wanted.value}"
    elif printed.speed is not None or (printed.duty or 1.0) < 0.99 or (printed.volts or 12.0) < 11.9:
        why = "not printed at full setting"
    return ClaimFacts(claim, subject.title, subject.dimension, value, tolerance * value, why)
