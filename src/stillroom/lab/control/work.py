"""The work of control nodes: one task in, one result out; what could not be had says so in words."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from stillroom.errors import LabDamaged, StillroomError
from stillroom.lab.control.nodes import ControlNode, ControlRun
from stillroom.lab.control.placing import told_of
from stillroom.lab.work import part_of
from stillroom.methods.control.kept import control_parts
from stillroom.methods.control.mounting import reduce_control
from stillroom.methods.control.told import Told
from stillroom.readers.layout import Layout
from stillroom.readers.reading.recording import read
from stillroom.readers.source import Source
from stillroom.store import originals
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
    node = task.node
    try:
        found = reduce_control([_told(task.lab, each) for each in node.runs])
    except LabDamaged:
        raise
    except StillroomError as error:
        return _result(node, {"failed": error.sentence(), "runs": []})
    runs = {"runs": list(found.runs)}
    if found.control is None:
        return _result(node, {"failed": found.failed, **runs})
    return _result(
        node, {**runs, "marks": list(found.control.marks), "control": control_parts(found.control)}
    )


def _result(node: ControlNode, body: dict[str, Any]) -> Result:
    return Result(node.key, node.kind, node.subject, node.inputs, node.method, False, body)


def _told(lab: Path, run: ControlRun) -> Told:
    """One table from the original, as the method is told it."""
    taken = run.placed.taken
    data = originals.data_of(lab, taken.place, taken.sha256)
    recording = read(Source(taken.file, data), Layout.from_dict(taken.layout))
    if taken.part is not None:
        recording = part_of(recording, taken.first or 0, taken.last)
    return told_of(run, recording)
