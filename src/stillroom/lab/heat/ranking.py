"""Fans in order by a measure of heat, or by the speed that a temperature rise needs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from stillroom.compare.standing import Ranking
from stillroom.compare.worth import Worth
from stillroom.errors import NotPossible
from stillroom.lab.answered import Answered, ranked, taking_part
from stillroom.lab.book import Book
from stillroom.lab.cases import speed_words
from stillroom.lab.field import Asked
from stillroom.lab.heat.cases import HeatCases
from stillroom.lab.heat.comparable import rig_asked, usual_loop
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.fan_sound import FREE_AIR, Sounds
from stillroom.lab.sound.level_words import limit_words
from stillroom.lab.sound.limited_field import limit_conditions
from stillroom.lab.system_words import Plain
from stillroom.lab.valuing import FanCase
from stillroom.measures import Origin
from stillroom.measures.heat import HEAT
from stillroom.store.lab import Lab

OWN_AIR = "the lab’s own air, rises over the air going in"
"""No rise is brought to 1.2 kg/m³: power and air-in temperature are measured, the air's density is the day's."""


@dataclass(frozen=True)
class HeatAnswer(Answered[FanCase]):
    """What heat answers, and how the fans got their values."""

    by: HeatCases = field(kw_only=True)


def is_by_heat(asked: Asked) -> bool:
    """Whether a question is answered by heat alone: one of its measures, or the speed that a rise needs."""
    needed = asked.measure.origin is Origin.NEEDED and asked.condition.for_heat is not None
    return asked.measure.origin is Origin.HEAT or needed


def rank_heat(lab: Lab, book: Book, graph: Graph, asked: Asked, *, blocked: Mapping[str, str]) -> Ranking:
    """Put the fans in order by heat; what was worked out is kept, spreads are agreed where none were.

    Parameters
    ----------
    blocked : {mounting: rule} of open findings that block; their fans are marked and lend no spread.

    Raises
    ------
    UnknownThing : a fan or a rig that the lab doesn't know.
    NotPossible : no heat run, several rigs and none named, or a condition that the measure can't be taken under.
    """
    found = heat_answer(Sounds(lab, book, graph), asked, blocked)
    obstacles = dict.fromkeys((found.by.field.rig.radiator, ""))  # a legacy number may tell none
    worth = worth_of(found) if asked.measure.name == HEAT and asked.condition.is_limited else None
    before = [replace(asked.condition, obstacle=each) for each in obstacles]
    return ranked(lab, book, asked, found, before=before, worth=worth)


def fans_on_rig(graph: Graph, asked: Asked) -> int:
    """How many fans blow on the radiator of the rig that a question is about; 0 where it is about none."""
    if not is_by_heat(asked) and asked.condition.for_heat is None:
        return 0
    return usual_loop(graph, rig_asked(graph, asked.condition.rig)).fans


def heat_answer(sounds: Sounds, asked: Asked, blocked: Mapping[str, str]) -> HeatAnswer:
    """The fans of a comparison by heat; errors as of `rank_heat`."""
    refuse(asked)
    if asked.condition.is_limited and not asked.only:
        sounds.agree_on_spread(blocked)
    by = HeatCases(sounds, asked, blocked)
    taking = taking_part(sounds.book, sounds.graph, asked, list(by.field.nodes))
    cases, failed = by.cases(taking.fans)
    told = conditions_of(by, taking.size, cases)
    return HeatAnswer(tuple(cases), (*taking.gone, *failed), told, by.field.shifts.notes, by=by)


def refuse(asked: Asked) -> None:
    """Conditions under which heat can't be asked for."""
    condition, name = asked.condition, f"measure {asked.measure.name}"
    if condition.obstacle:
        raise NotPossible(
            name,
            found=f"--through {condition.obstacle}",
            expected="no obstacle: the rig has its own radiator",
        )
    if condition.for_flow is not None:
        raise NotPossible(name, found="--for-flow", expected="a setting, --speed or --noise")
    if condition.for_heat is not None and asked.measure.origin is Origin.HEAT:
        raise NotPossible(name, found="--for-heat", expected="level, loudness or needed-speed")
    system = condition.system
    if not system.is_single or system.air != type(system)().air:
        raise NotPossible(
            name,
            found="a system or air put together",
            expected="as the rig was run: its fans, its radiator, the lab’s air",
        )


def conditions_of(by: HeatCases, size: float | None, cases: Sequence[FanCase]) -> dict[str, Plain]:
    """Under what fans were compared by heat."""
    asked, field, sounds = by.asked, by.field, by.sounds
    condition, geometry = asked.condition, sounds.comparable.geometry
    told: dict[str, Plain] = {
        "speed": speed_words(condition, geometry),
        "obstacle": field.rig.radiator or None,
        "obstacle version": None,
        "way": "measured on the heat rig",
        "density": OWN_AIR,
        "size": f"{size * 1000:.0f} mm" if size else None,
        **field.conditions,
    }
    if condition.is_limited:
        several = f"{field.rig.fans}, each at" if field.rig.fans > 1 else "1, at"
        told["fans on the radiator"] = f"{several} {limit_words(condition, geometry)}"
        free = [FREE_AIR in each.candidate.marks for each in cases]
        told["noise way"] = None if not any(free) else FREE_AIR if all(free) else f"in part {FREE_AIR}"
        told |= limit_conditions(sounds)
    return told


def worth_of(found: HeatAnswer) -> Worth | None:
    """What a decibel is worth to each fan at the limit; None where it can be told of none."""
    by = found.by
    each = by.per_decibel
    sloping = {fan: slope for fan, slope in each.items() if slope is not None and slope > 0.0}
    if not sloping:
        return None
    flat = {fan: "its level hardly rises with speed there" for fan in each if fan not in sloping}
    limit = limit_words(by.condition, by.sounds.comparable.geometry)
    return Worth(limit, sloping, flat)
