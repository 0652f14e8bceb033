"""The levels that boxes print: under which condition the lab's own answer them, and what these are.

A level printed for another distance is not checkable. Bringing it over by 20 lg(r/r₀) would take a free field and a
point source for granted; near a fan and above a floor neither is given.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from stillroom.compare.candidates import Bound
from stillroom.compare.claims import Measured
from stillroom.compare.printed import Printed
from stillroom.core.intervals import coverage_interval
from stillroom.core.sound.sound_mounting import Geometry
from stillroom.lab.executor import silent
from stillroom.lab.field import Asked
from stillroom.lab.question import spread_name
from stillroom.lab.sound.comparable import DISTANCE
from stillroom.lab.sound.fan_sound import SPREAD, Sounds
from stillroom.lab.sound.level_words import at_distance, level_words
from stillroom.lab.sound.nodes import SoundNode
from stillroom.lab.sound.valuing import TOP_MARK
from stillroom.lab.sound.ways import SoundCase, Way
from stillroom.measures import Condition, measure_named
from stillroom.measures.sound import LEVEL

WEIGHTED = "dBA"
"""The unit of what is compared."""


def unlike_level(printed: Printed, unit: str) -> str:
    """What a printed level lacks, so that none can answer it, or ""."""
    if unit != WEIGHTED:
        return f"printed in {unit}, measured in dBA"
    if printed.distance is None:
        return "its distance isn’t printed"
    if not printed.has_setting:
        return "its setting isn’t printed"
    return "its tolerance in % says nothing of a level" if printed.tolerance is not None else ""


def unlike_distance(printed: Printed, geometry: Geometry) -> str:
    """How the printed distance differs from that at which the lab compares, or ""; nothing is converted."""
    asked = Geometry(printed.distance)
    if geometry.distance is not None and abs((printed.distance or 0.0) - geometry.distance) <= DISTANCE:
        return ""
    return f"printed {at_distance(asked)}, measured {at_distance(geometry)}"


def by_volts(nodes: Sequence[SoundNode]) -> bool:
    """Whether the fan was set by volts where its sound was recorded."""
    return any(each.run.placed.setting_word.endswith("V") for node in nodes for each in node.recordings)


def box_levels(
    sounds: Sounds,
    condition: Condition,
    size: float | None,
    fans: Collection[str],
    blocked: Mapping[str, str],
    *,
    keep: bool,
) -> dict[str, Measured | str]:
    """The levels of some fans in free air as a ranking has them, {fan: level, or why there is none}.

    Mountings that an open finding blocks are left out. Spreads are those that rankings agreed; where none is agreed,
    those of all fans.

    Parameters
    ----------
    size : [m], None where it isn't told. blocked : {mounting: rule}. keep : whether the fans' numbers are kept.
    """
    told = sounds.comparable
    sound = {
        fan: tuple(each for each in nodes if each.blocked_as not in blocked)
        for fan, nodes in told.nodes.items()
    }
    waits = {fan for fan, nodes in sound.items() if not nodes}
    trusted = Sounds(sounds.lab, sounds.book, sounds.graph)
    trusted.comparable = replace(told, nodes={fan: nodes for fan, nodes in sound.items() if nodes})
    measure = measure_named(LEVEL)
    agreed = {SPREAD, spread_name(measure, condition)} <= set(sounds.book.spreads)
    taking = sorted(set(fans) - waits if agreed else trusted.comparable.nodes.keys() | (set(fans) - waits))
    way = Way(trusted, Asked(measure, condition, size, tuple(taking)), "", {}, silent, 1)
    cases, failed = way.cases(taking)
    own = [each for each in cases if each.candidate.fan in fans]
    if keep:
        sounds.lab.put_results([each.kept for each in own])
    found: dict[str, Measured | str] = {each.fan: each.why for each in failed if each.fan in fans}
    found |= {fan: "all of its mountings wait for a decision" for fan in waits if fan in fans}
    return found | {each.candidate.fan: _measured(each, told.geometry) for each in own}


def _measured(case: SoundCase, geometry: Geometry) -> Measured | str:
    """A fan's level, or why it can't stand against a printed one."""
    number = case.candidate
    if TOP_MARK in number.marks:
        return "its sound wasn’t measured at full setting"
    if number.bound is not Bound.NONE:
        return f"only an upper bound was measured: at most {level_words(number.value, geometry)}"
    low, high = (float(each) for each in coverage_interval(number.trials))
    return Measured(
        value=number.value,
        low=low,
        high=high,
        uncertainty=float(case.kept.body["standard_uncertainty"]),
        samples=number.samples,
        mountings=number.mountings,
        key=number.key,
        marks=(f"microphone {geometry.words}", *number.marks),
    )
