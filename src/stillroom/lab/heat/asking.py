"""What one fan does on the heat rigs: at full setting and at the lab's noise limits, or as it is asked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from stillroom.compare.candidates import Candidate
from stillroom.core.systems import System
from stillroom.errors import StillroomError
from stillroom.lab import versions
from stillroom.lab.cases import speed_words
from stillroom.lab.field import Asked
from stillroom.lab.heat.comparable import heat_rigs
from stillroom.lab.heat.nodes import rig_words
from stillroom.lab.heat.ranking import HeatAnswer, heat_answer
from stillroom.lab.sound.fan_sound import Sounds
from stillroom.lab.system_words import Plain
from stillroom.measures import Condition, Measure, measure_named
from stillroom.measures.heat import CONDUCTANCE, HEAT, HEAT_POWER

ASKED = (HEAT, CONDUCTANCE, HEAT_POWER)


@dataclass(frozen=True)
class HeatFact:
    """One measure of heat: the fan's value, or why it has none.

    Parameters
    ----------
    measure : what it is. found : the value, None where there is none. why : why there is none, or "".
    left_out : mountings that could not be used for it, each with why.
    """

    measure: Measure
    found: Candidate | None
    why: str = ""
    left_out: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class HeatAt:
    """The facts at one setting, speed or noise limit, in words."""

    at: str
    facts: tuple[HeatFact, ...]


@dataclass(frozen=True)
class HeatOnRig:
    """A fan on one heat rig, "" where nobody told its name: its conditions, and the facts at each setting or limit."""

    name: str
    conditions: Mapping[str, Plain]
    rows: tuple[HeatAt, ...]

    @property
    def rig(self) -> str:
        """The rig as it is spoken of."""
        return rig_words(self.name)


def heat_of(
    sounds: Sounds, fan: str, condition: Condition, blocked: Mapping[str, str]
) -> tuple[HeatOnRig, ...]:
    """What a fan does on the rigs on which it was run; nothing for another obstacle or a system put together.

    Parameters
    ----------
    condition : at full setting the lab's noise limits are answered for too, where the fan was heard.
    """
    graph = sounds.graph
    if condition.system != System() or condition.for_flow is not None or condition.for_heat is not None:
        return ()
    found: list[HeatOnRig] = []
    for rig in heat_rigs(graph):
        own = [each for each in graph.heating(fan) if each.rig == rig]
        if not own or (condition.rig and condition.rig != rig):
            continue
        radiator = own[-1].rig_told.radiator
        if condition.obstacle and versions.bare(condition.obstacle) != versions.bare(radiator):
            continue
        rows: list[HeatAt] = []
        told: dict[str, Plain] = {}
        for each in _conditions(sounds, fan, replace(condition, obstacle="", rig=rig)):
            row, conditions = _row(sounds, fan, each, blocked)
            told = told or conditions
            rows.append(row)
        found.append(HeatOnRig(rig, told, tuple(rows)))
    return tuple(found)


def _conditions(sounds: Sounds, fan: str, asked: Condition) -> list[Condition]:
    """As asked; where nothing sets the speed, the noise limits of the lab as well."""
    is_set = asked.is_limited or any(each is not None for each in (asked.speed, asked.duty, asked.volts))
    if is_set or not sounds.graph.sounding(fan):
        return [asked]
    limits = sorted(sounds.book.settings.sound.limits)
    return [asked, *(replace(asked, noise=limit) for limit in limits)]


def _row(
    sounds: Sounds, fan: str, condition: Condition, blocked: Mapping[str, str]
) -> tuple[HeatAt, dict[str, Plain]]:
    facts: list[HeatFact] = []
    told: dict[str, Plain] = {}
    for name in ASKED:
        measure = measure_named(name)
        try:
            answer = heat_answer(sounds, Asked(measure, condition, None, (fan,)), blocked)
        except StillroomError as error:
            facts.append(HeatFact(measure, None, error.found or error.sentence()))
            continue
        sounds.lab.put_results([each.kept for each in answer.cases])
        told = told or {name: value for name, value in answer.conditions.items() if name != "speed"}
        facts.append(_fact(measure, answer, fan))
    return HeatAt(f"at {speed_words(condition, sounds.comparable.geometry)}", tuple(facts)), told


def _fact(measure: Measure, answer: HeatAnswer, fan: str) -> HeatFact:
    left_out = tuple(answer.by.not_used.get(fan, ()))
    case = next(iter(answer.cases), None)
    if case is not None:
        return HeatFact(measure, case.candidate, "", left_out)
    return HeatFact(measure, None, answer.why(fan), left_out)
