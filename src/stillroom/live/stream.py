"""States of rigs as data: JSON, and frames of server-sent events.

Source: HTML Living Standard, 9.2 Server-sent events (text/event-stream).
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from stillroom.live.states import RigState

MEDIA_TYPE = "text/event-stream; charset=utf-8"

BEGIN = "retry: 2000\n\n"
"""What a stream begins with: a browser that lost it asks again after so many milliseconds.

It is then sent the states as they are; what it missed is of no use any more, so that its Last-Event-ID changes nothing.
"""

KEEP_ALIVE = ": still here\n\n"
"""A comment that keeps a connection open while nothing changes."""


def data_of(state: RigState) -> dict[str, Any]:
    """One rig as plain values; numbers in SI."""
    plain: dict[str, Any] = _plain(asdict(state))
    return plain | {"state": state.state.value}


def frame_of(states: Sequence[RigState], number: int) -> str:
    """All rigs as one event "rigs" with its number, by which a browser that was away goes on."""
    text = json.dumps([data_of(each) for each in states], ensure_ascii=False, separators=(",", ":"))
    return f"id: {number}\nevent: rigs\ndata: {text}\n\n"


def _plain(value: Any) -> Any:
    """A value without what JSON has no number for."""
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {name: _plain(each) for name, each in value.items()}
    return [_plain(each) for each in value] if isinstance(value, list | tuple) else value
