"""The heat nodes of the recipe graph.

    originals + layouts + reader, clocks, calibrations, baths ─┐
    rig as it stood, coolant, steps told, trials              ─┴→ heat of a mounting → law of a rig's era

A mounting's heat hangs on its own logs alone: another fan's run doesn't move it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from stillroom.lab.heat.placing import HeatRun
from stillroom.methods.airflow.chain import Chain
from stillroom.methods.heat import versions
from stillroom.methods.heat.told import LogTold, RigTold, StepTold

KIND = "heat"
LAW = "heat law"


def blocked_as(mounting: str) -> str:
    """Under which name the heat of a mounting is blocked: airflow of a mounting of the same name is not."""
    return f"heat of {mounting}"


@dataclass(frozen=True)
class LogNode:
    """One logger's file as it is read: its bytes, its clock, and the calibrations in force of its channels.

    Parameters
    ----------
    key : of all that. run : the file with its place. chains : {quantity: how it is measured}.
    calibrations : {quantity: name of the calibration in force}.
    """

    key: str
    run: HeatRun
    chains: Mapping[str, Chain] = field(default_factory=dict)
    calibrations: Mapping[str, str] = field(default_factory=dict)

    @property
    def subject(self) -> str:
        """The file, as people name it."""
        return self.run.placed.taken.words

    @property
    def name(self) -> str:
        """Short identity of the run."""
        return self.run.placed.run

    @property
    def told(self) -> LogTold:
        """What is told of it, as the method is given it."""
        run = self.run
        return LogTold(
            run=self.name,
            key=self.key,
            file=self.subject,
            logger=run.logger,
            moment=run.moment,
            offset=run.offset,
            chains=self.chains,
            names_fan=run.names_fan,
        )


def rig_words(rig: str) -> str:
    """A heat rig as it is spoken of: by its name, where it has one."""
    return rig or "the heat rig"


@dataclass(frozen=True)
class HeatNode:
    """The heat of one mounting on one rig.

    Parameters
    ----------
    key : of the result. subject : the mounting, with what tells several of one mounting apart.
    fan, sample, mounting : names. rig : name. radiator : that it blows through, an obstacle's name or "".
    date : of the first log. logs : the loggers' files used, of the fan and of the rig beside it.
    runs : names of the logs that make each run. rig_told : the rig as it stood.
    steps_told : of each run, planned or corrected. baths : all probes in one bath, the one that counts first.
    setting_kind, setting : of the whole run where one is told, else "" and None. tolerance : of steadiness [K].
    trials : number of trials. judged : key of what findings judge: the same, with nothing left out.
    left_out : logs that decisions exclude.
    """

    key: str
    subject: str
    fan: str
    sample: str
    mounting: str
    rig: str
    radiator: str
    date: str
    logs: tuple[LogNode, ...]
    runs: tuple[tuple[str, ...], ...]
    rig_told: RigTold
    steps_told: tuple[tuple[StepTold, ...], ...]
    baths: tuple[LogNode, ...]
    setting_kind: str
    setting: float | None
    tolerance: float
    trials: int
    judged: str
    left_out: tuple[LogNode, ...] = ()
    kind: str = field(default=KIND, init=False)

    @property
    def blocked_as(self) -> str:
        """Under which name it is blocked while a finding is open."""
        return blocked_as(self.subject)

    @property
    def members(self) -> tuple[LogNode, ...]:
        """All files that it rests on."""
        return (*self.logs, *self.baths)

    @property
    def inputs(self) -> dict[str, Any]:
        """What the result hangs on, by role: {"logs" or "baths": [{run, key, file, rig, calibrations}]}."""
        return {
            role: [
                {
                    "run": each.name,
                    "key": each.key,
                    "file": each.subject,
                    "rig": each.run.placed.rig,
                    "calibrations": dict(each.calibrations),
                }
                for each in nodes
            ]
            for role, nodes in (("logs", self.logs), ("baths", self.baths))
        }

    @property
    def method(self) -> str:
        """The method with its version."""
        return f"heat mounting {versions.MOUNTING}"
