"""Calibrators and backgrounds in plain words and numbers, and the scales that they make."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from stillroom.errors import StillroomError
from stillroom.methods.sound.facts import heard_facts, told_facts
from stillroom.methods.sound.scales import Scale, calibrator_reading, offset_for
from stillroom.methods.sound.told import Chain, Item, Session


def beside_facts(sessions: Sequence[Session], scales: Mapping[str, Scale]) -> list[dict[str, Any]]:
    """What calibrators and backgrounds hold, each once, on the scale of the first recording that they belong to."""
    found: dict[str, dict[str, Any]] = {}
    for session in sessions:
        scale = scales.get(session.item.told.run)
        for items, is_calibrator in ((session.calibrators, True), (session.backgrounds, False)):
            for each in (*items.before, *items.after):
                if each.told.run not in found:
                    found[each.told.run] = _one_beside(each, scale, is_calibrator=is_calibrator)
    return list(found.values())


def _one_beside(item: Item, scale: Scale | None, *, is_calibrator: bool) -> dict[str, Any]:
    facts = told_facts(item.told, failed=item.failed)
    if item.heard:
        heard = item.heard[0]
        facts |= heard_facts(heard, offset_for(heard, scale) if scale else None)
    if is_calibrator:
        try:
            reading = calibrator_reading(item)
        except StillroomError as error:
            return facts | {"failed": error.sentence()}
        facts |= {"frequency": reading.frequency, "others": reading.others, "steady": reading.steady,
                  "nominal": item.told.calibrator}  # fmt: skip
        if reading.fault:
            facts["failed"] = f"no calibrator: found {reading.fault[0]}; expected {reading.fault[1]}"
    return facts


def calibration_facts(
    sessions: Sequence[Session], scales: Mapping[str, Scale], chain: Chain
) -> tuple[dict[str, Any], ...]:
    """Each scale once."""
    found: dict[Any, dict[str, Any]] = {}
    for session in sessions:
        scale = scales.get(session.item.told.run)
        if scale is None:
            continue
        runs = session.calibrators.runs
        by = scale.calibrated
        entry = found.setdefault((runs, scale.offset), {
            "microphone": chain.name,
            "offset": scale.offset,
            "before": by.before if by else None,
            "after": by.after if by else None,
            "drift": by.drift if by else None,
            "nominal": by.nominal if by else None,
            "frequency": by.frequency if by else None,
            "u": float(np.sqrt(sum(each**2 for each in scale.sources.values()))),
            "marks": list(scale.marks),
            "runs_before": list(runs[0]),
            "runs_after": list(runs[1]),
            "runs": [],
        })  # fmt: skip
        entry["runs"].append(session.item.told.run)
    return tuple(found.values())
