"""What is kept of a bridge between two eras of a rig, by a ratio or by a difference, and how it is told."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from stillroom.compare.standing import BridgeNote
from stillroom.core.bridging import Bridge
from stillroom.core.shift import Shift
from stillroom.lab.eras.eras import Era, era_number
from stillroom.store.results import Result

BRIDGED = "bridged"
"""What is said beside a number that rests on mountings of another era."""


def bridge_subject(name: str, era: Era, target: Era) -> str:
    """What a bridge between two eras is about."""
    return f"{name}, era {era.number} to {target.number}"


def bridge_body(era: Era, target: Era, bridge: Bridge | Shift, dates: Mapping[str, str]) -> dict[str, Any]:
    """The body of the result of a bridge; `dates` tells when each mounting was measured."""
    low, high = bridge.interval
    later = max(era, target, key=era_number)
    by = {"ratio": bridge.ratio} if isinstance(bridge, Bridge) else {"difference": bridge.change}
    return {
        "rig": era.rig,
        "from": era.number,
        "to": target.number,
        "event": later.why,
        "since": later.began,
        **by,
        "low": low,
        "high": high,
        "standard_uncertainty": bridge.u,
        "dof": bridge.dof,
        "samples": [each.rstrip("/") for each in bridge.samples],
        "before": {each: dates[each] for each in bridge.before},
        "after": {each: dates[each] for each in bridge.after},
        "agree": bridge.agree,
    }


def bridge_note(kept: Result) -> BridgeNote:
    """What is said of a bridge beside a ranking."""
    body = kept.body
    return BridgeNote(
        rig=body["rig"],
        era=(body["from"], body["to"]),
        event=f"{body['event']!r} ({body['since'][:10]})",
        change=body["ratio"] if "ratio" in body else body["difference"],
        low=body["low"],
        high=body["high"],
        samples=tuple(body["samples"]),
        mountings=(len(body["before"]), len(body["after"])),
        agree=body["agree"],
        key=kept.key,
        unit=body.get("unit", ""),
    )
