"""From a recording of control behaviour to what the method is told: attempts in numbers, open wires, directions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from stillroom.core.control.starts import Attempt
from stillroom.errors import BadInput
from stillroom.lab.control.nodes import ControlRun
from stillroom.methods.control.told import Flags, Table, Told
from stillroom.readers.reading.recording import Recording
from stillroom.readers.reading.sweeps import direction_word
from stillroom.readers.words.control import is_open, starts_in, yes_or_no
from stillroom.readers.words.headers import ATTEMPTS, COLD, CONTROL, DIRECTION, FROM_REST, STARTED
from stillroom.readers.words.kinds import Kind

TABLES: Mapping[Kind, Table] = {
    Kind.CONTROL_STEPS: Table.STEPS,
    Kind.START_TESTS: Table.STARTS,
    Kind.INRUSH: Table.INRUSH,
}

RESTED = 60.0
"""What "from rest" without a time stands for: long enough [s]."""

_FALLING = {"up": False, "down": True}


def told_of(run: ControlRun, recording: Recording) -> Told:
    """What a table tells the method.

    Parameters
    ----------
    run : the table with its place. recording : its readings, those of its part.

    Raises
    ------
    BadInput : a start attempt that says neither yes nor no, or has no setting.
    """
    placed, table = run.placed, TABLES[Kind(run.placed.taken.content)]
    open_wire = _open_rows(recording)
    told = [_FALLING.get(direction_word(each)) for each in recording.texts.get(DIRECTION, ())]
    kind, attempts = ("", ()) if table is not Table.STARTS else _attempts(recording)
    frequency = placed.row.pwm_frequency if placed.row else None
    return Told(
        run=run.name,
        key=run.key,
        file=placed.taken.words,
        table=table,
        columns=recording.columns,
        falling=tuple(told) if any(each is not None for each in told) else (),
        open_wire=open_wire,
        attempts=attempts,
        speed_chain=run.speed_chain,
        current_chain=run.current_chain,
        setting_kind=kind or placed.setting_kind,
        setting=placed.setting,
        date=placed.date,
        pwm_frequency=frequency,
        lines=(int(recording.lines[0]), int(recording.lines[-1])),
    )


def _open_rows(recording: Recording) -> Flags:
    """The readings with an open control wire: a column says so, or the cell of the duty does."""
    flags = np.zeros(len(recording), dtype=bool)
    words = recording.texts.get(CONTROL, ())
    for i, each in enumerate(words):
        flags[i] = is_open(each)
    if "duty" in recording.columns:
        without = np.flatnonzero(np.isnan(recording.columns["duty"]) & ~flags)
        for i in without[:MOST_LOOKED_AT].tolist():
            flags[i] = is_open(recording.raw(i, "duty").text)
    return flags


MOST_LOOKED_AT = 20
"""So many readings without a duty are looked up in the file for the word that stands there."""


def _attempts(recording: Recording) -> tuple[str, tuple[Attempt, ...]]:
    """By which control the attempts were made, and the attempts.

    Under a duty that moves, the voltage is the supply; at one and the same duty the voltage is what was set.
    """
    duty, volts = (recording.columns.get(name) for name in ("duty", "voltage"))
    moved = {name: len(np.unique(np.round(each[np.isfinite(each)], 3)))
             for name, each in (("duty", duty), ("volts", volts)) if each is not None}  # fmt: skip
    by_volts = duty is None or (moved.get("volts", 0) > 1 and moved["duty"] == 1 and _is_full(recording))
    kind, settings = ("volts", volts) if by_volts and volts is not None else ("duty", duty)
    assert settings is not None  # the kind of the table requires one of them
    found = []
    for i, setting in enumerate(settings.tolist()):
        place = f"{recording.source.name}, line {recording.lines[i]}"
        if not np.isfinite(setting):
            raise BadInput(
                "start attempt", place=place, found="no setting", expected="the duty or voltage that was set"
            )
        started, tried = starts_in(_cell(recording, STARTED, i), _cell(recording, ATTEMPTS, i), place)
        cold = yes_or_no(_cell(recording, COLD, i))
        found.append(Attempt(round(setting, 4), tried, started, _rested(recording, i), cold))
    return kind, tuple(found)


def _is_full(recording: Recording) -> bool:
    return bool(np.nanmin(recording.columns["duty"]) >= 0.995)


def _cell(recording: Recording, name: str, i: int) -> str:
    cells: Sequence[str] = recording.texts.get(name, ())
    return cells[i] if i < len(cells) else ""


def _rested(recording: Recording, i: int) -> float | None:
    """How long it had stood before an attempt [s]; None where nobody told."""
    times = recording.columns.get("rest_time")
    if times is not None and np.isfinite(times[i]):
        return float(times[i])
    said = yes_or_no(_cell(recording, FROM_REST, i))
    return None if said is None else RESTED if said else 0.0
