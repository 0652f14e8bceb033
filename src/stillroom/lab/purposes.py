"""What a lab's rigs are for, and which is meant where nobody tells it."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from stillroom.readers.words.kinds import HEAT_QUANTITIES
from stillroom.records.bench import Rig

SOUND = "sound"
"""The purpose of a rig for sound, as its record says it."""

HEAT = "heat"
"""The purpose of a heat rig, as its record says it."""

CONTROL = "control"
"""The purpose of a bench for tests of the control, as its record says it."""

_HEARING = frozenset({"sound_pressure", "sound_level"})
_OF_AIRFLOW = frozenset({"flow", "nozzle_pressure", "static_pressure", "resistance_pressure"})


def rigs_for_sound(rigs: Iterable[Rig]) -> set[str]:
    """The names of the rigs for sound: by their purpose, or by instruments that only measure sound."""
    return {
        each.rig
        for each in rigs
        if each.purpose == SOUND
        or (
            each.purpose is None
            and each.roles
            and {*each.roles} & _HEARING
            and not {*each.roles} & _OF_AIRFLOW
        )
    }


def rigs_for_heat(rigs: Iterable[Rig]) -> set[str]:
    """The names of the heat rigs: by their purpose, or by an instrument that only a heat rig has."""
    return {
        each.rig
        for each in rigs
        if each.purpose == HEAT or (each.purpose is None and {*(each.roles or {})} & {*HEAT_QUANTITIES})
    }


def rigs_for_control(rigs: Iterable[Rig]) -> set[str]:
    """The names of the benches for tests of the control, by their purpose."""
    return {each.rig for each in rigs if each.purpose == CONTROL}


def rigs_for_airflow(rigs: Collection[Rig]) -> set[str]:
    """The names of all other rigs."""
    others = rigs_for_sound(rigs) | rigs_for_heat(rigs) | rigs_for_control(rigs)
    return {each.rig for each in rigs} - others


def usual_rig(rigs: Collection[Rig], usual: str) -> str:
    """The rig of a run of airflow of which nobody tells it: the lab's usual one where it isn't for something else, else
    the only one that is for airflow; "" where there is none such.
    """
    airflow = rigs_for_airflow(rigs)
    if usual and (usual in airflow or usual not in {each.rig for each in rigs}):
        return usual
    return next(iter(airflow)) if len(airflow) == 1 else ""


def only_rig(rigs: Collection[str], usual: str = "") -> str:
    """Of the rigs for one purpose the lab's usual one, else the only one; "" where there is none, or several."""
    return usual if usual in rigs else next(iter(rigs)) if len(rigs) == 1 else ""
