"""What is asked of each fan, and what a value hangs on: its key and the name of its spread."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from stillroom.core.row_speeds import VERSION as ROW_SPEEDS
from stillroom.core.sound.sound_mounting import Geometry
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.system_words import Plain
from stillroom.lab.through import Through
from stillroom.measures import Condition, Measure
from stillroom.records.keys import key_of
from stillroom.store.results import Result


@dataclass(frozen=True)
class AtLimit:
    """Where a noise limit sets the speeds.

    Parameters
    ----------
    limits : {fan: its kept limit}. geometry : of the microphone. conditions : of the sound, as they are told.
    """

    limits: Mapping[str, Result]
    geometry: Geometry
    conditions: Mapping[str, Plain]


@dataclass(frozen=True)
class Question:
    """What is asked of each fan: a measure under a condition, what the air goes through, and the fans' limits."""

    measure: Measure
    condition: Condition
    through: Through = Through()
    at_limit: AtLimit | None = None

    def key(self, mounting: CurveNode) -> str:
        """Key of the value of one mounting."""
        asked = self.condition
        of_speed: list[object] = []
        if self.at_limit is not None:
            of_speed = ["limit", ROW_SPEEDS, self.at_limit.limits[mounting.fan].key,
                        greatest_is_full(mounting)]  # fmt: skip
        elif asked.for_flow is not None:
            of_speed = ["flow", asked.for_flow, greatest_is_full(mounting)]
        return key_of("mounting value", self.measure.name, self.measure.version, asked.speed, asked.duty,
                      asked.volts, asked.system, mounting.key, self.through.key, *of_speed)  # fmt: skip

    @property
    def for_bridges(self) -> Question:
        """By which eras are bridged: at a noise limit by full setting, so that fans whose sound nobody measured
        serve too; a change of the chamber moves all speeds alike.
        """
        if not self.condition.is_limited:
            return self
        return replace(self, condition=replace(self.condition, noise=None, sone=None), at_limit=None)

    @property
    def spread_name(self) -> str:
        """Under which the spread of such values is agreed: full setting and a given speed differ."""
        return spread_name(self.measure, self.condition)

    @property
    def is_modelled(self) -> bool:
        """Whether the answer is of a system that was put together, not measured."""
        return not self.condition.system.is_single or bool(self.through.marks)


def spread_name(measure: Measure, condition: Condition) -> str:
    """Under which name the spread of a measure's values is agreed."""
    told = {"speed": condition.speed, "duty": condition.duty, "voltage": condition.volts,
            "noise": condition.noise if condition.sone is None else condition.sone,
            "airflow": condition.for_flow, "temperature rise": condition.for_heat}  # fmt: skip
    given = [f"given {name}" for name, value in told.items() if value is not None]
    return f"{measure.name}, {given[0] if given else 'full setting'}"


def greatest_is_full(mounting: CurveNode) -> bool:
    """Whether the greatest setting of a fan's sweeps is its full setting, as far as the settings told say it."""
    kinds = {each.placed.setting_kind for each in mounting.runs}
    if mounting.top is None or "duty" not in kinds:
        return kinds != {"speed"}
    return mounting.top >= FULL


FULL = 0.995
"""From which duty on a setting is full setting [1]."""
