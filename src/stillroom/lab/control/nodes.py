"""The control nodes of the recipe graph.

originals + layouts + reader, speed meter ─→ control of a mounting → value of a fan → ranking
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from stillroom.lab.book import Placed
from stillroom.methods.airflow.chain import Chain
from stillroom.methods.control import versions

KIND = "control"


def blocked_as(mounting: str) -> str:
    """Under which name the control of a mounting is blocked: airflow of a mounting of the same name is not."""
    return f"control of {mounting}"


@dataclass(frozen=True)
class ControlRun:
    """One table of control behaviour: what is read, by which instruments.

    Parameters
    ----------
    key : of the run. placed : the file with its place. speed_chain, current_chain : how speed and current are
    measured. calibrations : names of the calibrations in force, by quantity.
    """

    key: str
    placed: Placed
    speed_chain: Chain
    current_chain: Chain
    calibrations: Mapping[str, str]

    @property
    def name(self) -> str:
        """Short identity of the run."""
        return self.placed.run


@dataclass(frozen=True)
class ControlNode:
    """The control behaviour of one mounting.

    Parameters
    ----------
    key : of the result. subject : the mounting. fan, sample, rig : names. date : of the first table.
    runs : tables used. left_out : excluded by decisions. judged : key of what findings judge: the same, with nothing
    left out. trials : number of trials of values that are taken from it.
    """

    key: str
    subject: str
    fan: str
    sample: str
    rig: str
    date: str
    runs: tuple[ControlRun, ...]
    left_out: tuple[ControlRun, ...]
    judged: str
    trials: int
    kind: str = field(default=KIND, init=False)

    @property
    def blocked_as(self) -> str:
        """Under which name it is blocked while a finding is open."""
        return blocked_as(self.subject)

    @property
    def inputs(self) -> dict[str, Any]:
        """What the result hangs on, by role."""
        return {
            "runs": [
                {
                    "run": each.name,
                    "key": each.key,
                    "file": each.placed.taken.words,
                    "calibrations": dict(each.calibrations),
                    "nozzles": [],
                    "rig": each.placed.rig,
                    "setting": each.placed.setting_word or "settings of its own",
                }
                for each in self.runs
            ]
        }

    @property
    def method(self) -> str:
        """The method with its version."""
        return f"control mounting {versions.MOUNTING}"
