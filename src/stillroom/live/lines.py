"""What is shown of watched rigs in a terminal: a line for each change, and a short table of all rigs."""

from __future__ import annotations

import re
from collections.abc import Sequence

from stillroom.live.saying import minutes
from stillroom.live.states import RigState, State

COLUMNS = ("rig", "state", "fan", "setting", "step", "now", "ends at", "to go")
_NUMBER = re.compile(r"[-+−]?[0-9]+(?:[.,][0-9]+)?")
WIDEST = 28
"""A cell of the table is no wider than this."""


def is_change(before: RigState | None, after: RigState) -> bool:
    """Whether a state is worth a line: another word, step or fan; of "check rig" another reason too."""
    if before is None:
        return True
    one, other = (_told(each) for each in (before, after))
    return one != other


def rings(before: RigState | None, after: RigState) -> bool:
    """Whether a change deserves a sound: another word than before."""
    return before is not None and before.state is not after.state


def _told(state: RigState) -> tuple[object, ...]:
    """What makes a line: of a reason its words, without the numbers that change from look to look."""
    reason = _NUMBER.sub("#", state.reason) if state.state is State.CHECK else ""
    return (state.state, state.step, state.of, state.fan, state.sample, reason)


def line_of(state: RigState) -> str:
    """One line: rig, state, what is on it, numbers, reason."""
    words = [
        f"{state.rig}: {state.state.value}",
        " ".join(each for each in (state.fan, _sample(state), state.setting) if each),
        f"step {state.step} of {state.of}" if state.step else "",
        _value(state),
        _forecast(state),
    ]
    return f"{', '.join(each for each in words if each)}: {state.reason}"


def table_of(states: Sequence[RigState]) -> tuple[str, ...]:
    """The table, a row for each rig, with the reason below where something is to be done."""
    rows = [COLUMNS, *(_row(each) for each in states)]
    widths = [min(WIDEST, max(len(row[at]) for row in rows)) for at in range(len(COLUMNS))]
    lines = [
        "  ".join(cell[:width].ljust(width) for cell, width in zip(row, widths, strict=True)) for row in rows
    ]
    reasons = [f"{each.rig}: {each.reason}" for each in states]
    return (*(each.rstrip() for each in lines), *reasons)


def _row(state: RigState) -> tuple[str, ...]:
    return (
        state.rig,
        state.state.value,
        " ".join(each for each in (state.fan, _sample(state)) if each) or "-",
        state.setting or "-",
        f"{state.step} of {state.of}" if state.of else "-",
        _value(state) or "-",
        _forecast(state).removeprefix("ends at ") or "-",
        "-" if state.wait is None else minutes(state.wait),
    )


def _sample(state: RigState) -> str:
    return f"sample {state.sample.lstrip('sS')}" if state.sample else ""


def _value(state: RigState) -> str:
    return "" if state.value is None else f"{state.value:.2f} K"


def _forecast(state: RigState) -> str:
    told = state.forecast
    return "" if told is None else f"ends at {told.final:.2f} K ({told.low:.2f} to {told.high:.2f})"
