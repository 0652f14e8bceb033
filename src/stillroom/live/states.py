"""The state of a heat rig while a run is on it: one word, one reason."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class State(StrEnum):
    """The one word for a rig."""

    SETTLING = "settling"
    STEADY = "steady"
    CHECK = "check rig"
    READY = "ready to swap"


@dataclass(frozen=True)
class Expected:
    """Where the step on the rig will end: value and 95 % interval [K]."""

    final: float
    low: float
    high: float


@dataclass(frozen=True)
class RigState:
    """What there is to say of one rig now.

    Parameters
    ----------
    rig : its name. state : the one word. reason : the one reason, in a sentence.
    fan, sample : what is on the rig, "" where nothing tells.
    setting : of the step that runs, in words ("43 %"), "" where unknown.
    step, of : number of the step, and how many there are to be (0 where nothing was planned).
    moment : of the last reading (ISO, with seconds), "" before the first.
    value : temperature rise of the hot probe over the air at nominal power now [K], None before the first reading.
    forecast : where the step will end, None before it can be told.
    wait : until the step is done [s], None where it can't be told.
    findings : what rules say, each with its cause and its one-minute test, as plain dictionaries.
    intake : how its files come into the lab: the words after `stillroom add`, of each call.
    """

    rig: str
    state: State
    reason: str
    fan: str = ""
    sample: str = ""
    setting: str = ""
    step: int = 0
    of: int = 0
    moment: str = ""
    value: float | None = None
    forecast: Expected | None = None
    wait: float | None = None
    findings: tuple[dict[str, str], ...] = ()
    intake: tuple[tuple[str, ...], ...] = ()
