"""What is measured in a lab, what its rigs are for, and which of them is meant where nobody tells it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from enum import StrEnum

from stillroom.readers.words.kinds import HEAT_QUANTITIES, Kind
from stillroom.records.bench import Rig


class Purpose(StrEnum):
    """What is measured of a fan, as the record of a rig says what it is for."""

    AIRFLOW = "airflow"
    SOUND = "sound"
    HEAT = "heat"
    CONTROL = "control"

    @classmethod
    def of(cls, kind: Kind) -> Purpose:
        """What a kind of file is a measurement of."""
        if kind.is_sound:
            return cls.SOUND
        if kind.is_heat:
            return cls.HEAT
        return cls.CONTROL if kind.is_control else cls.AIRFLOW


CONTENTS: Mapping[Purpose, frozenset[str]] = {
    purpose: frozenset(kind.value for kind in Kind if Purpose.of(kind) is purpose) for purpose in Purpose
}
"""What `Taken.content` can be of a run, by what it measures."""

_HEARING = frozenset({"sound_pressure", "sound_level"})
_OF_AIRFLOW = frozenset({"flow", "nozzle_pressure", "static_pressure", "resistance_pressure"})


_OF_CONTENT = {content: purpose for purpose, contents in CONTENTS.items() for content in contents}


def purpose_of(content: str) -> Purpose:
    """What a run measures, by its content; airflow where that is no kind of file that is known."""
    return _OF_CONTENT.get(content, Purpose.AIRFLOW)


def rigs_for(purpose: Purpose, rigs: Collection[Rig]) -> set[str]:
    """The names of the rigs for one purpose: by their record, else by instruments that only such a rig has; those that
    are for nothing else are for airflow.
    """
    if purpose is Purpose.AIRFLOW:
        others = (rigs_for(each, rigs) for each in Purpose if each is not Purpose.AIRFLOW)
        return {each.rig for each in rigs}.difference(*others)
    return {each.rig for each in rigs if _is_for(purpose, each)}


def _is_for(purpose: Purpose, rig: Rig) -> bool:
    if rig.purpose is not None:
        return rig.purpose == purpose.value
    roles = {*(rig.roles or {})}
    if purpose is Purpose.SOUND:
        return bool(roles & _HEARING) and not roles & _OF_AIRFLOW
    return purpose is Purpose.HEAT and not roles.isdisjoint(HEAT_QUANTITIES)


def usual_rig(rigs: Collection[Rig], usual: str) -> str:
    """The rig of a run of airflow of which nobody tells it: the lab's usual one where it isn't for something else, else
    the only one that is for airflow; "" where there is none such.
    """
    airflow = rigs_for(Purpose.AIRFLOW, rigs)
    if usual and (usual in airflow or usual not in {each.rig for each in rigs}):
        return usual
    return next(iter(airflow)) if len(airflow) == 1 else ""


def only_rig(rigs: Collection[str], usual: str = "") -> str:
    """Of the rigs for one purpose the lab's usual one, else the only one; "" where there is none, or several."""
    return usual if usual in rigs else next(iter(rigs)) if len(rigs) == 1 else ""
