"""The work of control nodes: one task in, one result out; what could not be had says so in words."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from stillroom.lab.control.nodes import ControlNode
from stillroom.lab.control.placing import told_of
from stillroom.lab.outcomes import Parts, outcome
from stillroom.lab.readings import readings_of
from stillroom.methods.control.kept import control_parts
from stillroom.methods.control.mounting import reduce_control
from stillroom.store.results import Result


@dataclass(frozen=True)
class ControlTask:
    """Reduce one control node of the lab at a path."""

    lab: Path
    node: ControlNode


def control_work(task: ControlTask) -> Result:
    """Do one task.

    Raises
    ------
    LabDamaged : an original is missing or was changed.
    """
    return outcome(task.lab, task.node, lambda: _parts(task), runs=[])


def _parts(task: ControlTask) -> Parts:
    found = reduce_control(
        [told_of(each, readings_of(task.lab, each.placed.taken)) for each in task.node.runs]
    )
    runs = {"runs": list(found.runs)}
    if found.control is None:
        return {"failed": found.failed, **runs}, {}
    return {**runs, "marks": list(found.control.marks), "control": control_parts(found.control)}, {}
