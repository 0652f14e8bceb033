"""The work of heat nodes: one task in, one result out.

A worker reads originals and writes the cache; it never touches the database. What could not be worked out is a result
that says so in words, and never stops the others.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from stillroom.errors import BadInput
from stillroom.lab.heat.nodes import HeatNode, LogNode
from stillroom.lab.outcomes import Parts, outcome
from stillroom.lab.readings import readings_of
from stillroom.methods.heat.kept import heat_parts, series_parts
from stillroom.methods.heat.mounting import Reduced, reduce_heat
from stillroom.methods.heat.told import HeatTold, Log
from stillroom.store.results import Result


@dataclass(frozen=True)
class HeatTask:
    """Reduce one heat node of the lab at a path."""

    lab: Path
    node: HeatNode


def heat_work(task: HeatTask) -> Result:
    """Do one mounting. Its arrays are in the cache when this returns.

    Raises
    ------
    LabDamaged : an original is missing or was changed.
    """
    return outcome(task.lab, task.node, lambda: _parts(_reduced(task)), logs=[])


def _reduced(task: HeatTask) -> Reduced:
    node = task.node
    logs = {each.name: read_log(task.lab, each) for each in node.members}
    runs = [[logs[name] for name in run] for run in node.runs]
    return reduce_heat(runs, told_of(node, tuple(logs[each.name] for each in node.baths)))


def _parts(found: Reduced) -> Parts:
    body: dict[str, Any] = {
        "logs": list(found.logs),
        "cuts": list(found.cuts),
        "offsets": {name: dict(each) for name, each in (found.offsets or {}).items()},
    }
    if found.heat is None or found.series is None:
        return {"failed": found.failed, **body}, {}
    parts, arrays = heat_parts(found.heat)
    words, series = series_parts(found.series)
    return {**body, **parts, "series": words}, arrays | series


def told_of(node: HeatNode, baths: tuple[Log, ...] = ()) -> HeatTold:
    """What is told of a mounting, as the method is given it."""
    return HeatTold(
        identity=node.subject,
        rig=node.rig_told,
        steps=node.steps_told,
        tolerance=node.tolerance,
        setting_kind=node.setting_kind,
        setting=node.setting,
        trials=node.trials,
        baths=baths,
    )


def read_log(lab: Path, node: LogNode) -> Log:
    """One log from its original.

    Raises
    ------
    LabDamaged : the original is missing or was changed. BadInput : it has no times.
    """
    taken = node.run.placed.taken
    recording = readings_of(lab, taken)
    columns = recording.columns
    if "time" not in columns:
        raise BadInput(
            "log", place=taken.words, found="no column of times", expected="a time of each reading"
        )
    log = recording.log
    return Log(node.told, columns, recording.lines, len(log.gaps) if log else 0, log.repeated if log else 0)
