"""The airflow nodes of the recipe graph: runs, and what is fitted from them: a mounting of a fan, or an obstacle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from stillroom.lab.book import Placed
from stillroom.methods.airflow import mounting as mounting_method
from stillroom.methods.airflow import obstacle as obstacle_method
from stillroom.methods.airflow.bench import Bench


@dataclass(frozen=True)
class RunNode:
    """One run: what is read, on which bench.

    Parameters
    ----------
    key : of the run. placed : the file with its place. bench : the rig as used.
    calibrations : names of the calibrations in force, by quantity.
    """

    key: str
    placed: Placed
    bench: Bench
    calibrations: dict[str, str]


@dataclass(frozen=True)
class CurveNode:
    """A mounting of a fan or an obstacle: what is fitted from which runs.

    Parameters
    ----------
    key : of the result. kind : "mounting" or "obstacle". subject : its name. fan, sample : names, or "".
    obstacle : what stood before the fan, or the obstacle itself; "" for a bare fan.
    diameter : reference diameter [m]. runs : the runs used. left_out : runs that a decision excludes.
    trials : number of trials. judged : key of what findings judge: the same, with nothing left out.
    top : the fan's greatest setting over all its mountings; None where no setting was told.
    """

    key: str
    kind: str
    subject: str
    fan: str
    sample: str
    obstacle: str
    diameter: float
    runs: tuple[RunNode, ...]
    left_out: tuple[RunNode, ...]
    trials: int
    judged: str
    top: float | None

    @property
    def inputs(self) -> dict[str, Any]:
        """What the result hangs on, by role."""
        return {
            "runs": [
                {
                    "run": each.placed.run,
                    "key": each.key,
                    "file": each.placed.taken.words,
                    "calibrations": each.calibrations,
                    "nozzles": list(each.placed.taken.nozzles or ()),
                    "rig": each.placed.rig,
                    "setting": each.placed.setting_word,
                }
                for each in self.runs
            ]
        }

    @property
    def rig(self) -> str:
        """The rig: of its first run."""
        return self.runs[0].placed.rig

    @property
    def date(self) -> str:
        """When it was measured: its first run, ISO 8601."""
        return self.runs[0].placed.date

    @property
    def blocked_as(self) -> str:
        """Under which name it is blocked while a finding is open."""
        return self.subject

    @property
    def method(self) -> str:
        """The method with its version."""
        module = mounting_method if self.kind == "mounting" else obstacle_method
        return f"airflow {self.kind} {module.VERSION}"
