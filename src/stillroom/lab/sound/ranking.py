"""Fans in order by a measure of sound: level, loudness, sharpness, and the speed that a noise limit allows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from stillroom.compare.candidates import Excluded
from stillroom.compare.ranking import rank
from stillroom.compare.standing import BridgeNote, Ranking
from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab import legacy, versions
from stillroom.lab.book import Book
from stillroom.lab.cases import density_words, margin_of, speed_words
from stillroom.lab.executor import Progress
from stillroom.lab.field import Asked, usual_size, why_not
from stillroom.lab.heat.comparable import heat_field, rig_asked
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.fan_sound import FREE_AIR, Sounds
from stillroom.lab.sound.limited_field import limit_conditions
from stillroom.lab.sound.ways import SoundCase, Way
from stillroom.lab.system_words import Plain, system_told
from stillroom.lab.through import through_of
from stillroom.measures import Origin, system_marks
from stillroom.measures.sound import LEVEL, LOUDNESS, SHARPNESS
from stillroom.store.lab import Lab
from stillroom.vocabulary import BY_NAME


@dataclass(frozen=True)
class SoundAnswer:
    """The fans of a comparison by sound: those with a value, those without, and under what they were compared."""

    cases: tuple[SoundCase, ...]
    excluded: tuple[Excluded, ...]
    conditions: dict[str, Plain]
    bridges: tuple[BridgeNote, ...] = ()


def rank_sound(
    lab: Lab,
    book: Book,
    graph: Graph,
    asked: Asked,
    *,
    blocked: Mapping[str, str],
    progress: Progress,
    workers: int,
) -> Ranking:
    """Put the fans in order by a measure of sound; what was worked out is kept, spreads are agreed where none were.

    Parameters
    ----------
    blocked : {mounting: rule} of open findings that block; their fans are marked and lend no spread.

    Raises
    ------
    UnknownThing : an obstacle or a fan that the lab doesn't know.
    NotPossible : a condition that the measure can't be taken under.
    """
    found = sound_cases(Sounds(lab, book, graph), asked, blocked, progress, workers)
    lab.put_results([each.kept for each in found.cases])
    measure = asked.measure
    numbers = {each.fan: each for each in found.excluded}
    told = {
        fan: legacy.standing(book, measure, asked.condition, fan)
        for fan, each in numbers.items()
        if not each.measured and each.why != NOT_ASKED
    }
    stands = [each for each in told.values() if not isinstance(each, str)]
    lab.put_results(
        [
            legacy.kept(each)
            for each in book.legacy.values()
            if each.measure == measure.name and each.fan in {one.fan for one in stands}
        ]
    )
    return rank(
        [each.candidate for each in found.cases],
        measure=measure.name,
        definition=measure.definition,
        version=str(measure.version),
        unit=BY_NAME[measure.quantity].unit,
        conditions=found.conditions,
        margin=margin_of(book, measure),
        merit=measure.merit,
        excluded=[
            each
            for each in found.excluded
            if each.why != NOT_ASKED and each.fan not in {one.fan for one in stands}
        ],
        legacy=stands,
        bridges=found.bridges,
    )


NOT_ASKED = "not asked for"

AS_HEARD = "levels in the quiet room’s own air"
"""No level is brought to 1.2 kg/m³: that would move it by 20 lg(1.2/ρ), some tenths of a dB near the sea."""


def sound_cases(
    sounds: Sounds, asked: Asked, blocked: Mapping[str, str], progress: Progress, workers: int = 0
) -> SoundAnswer:
    """The fans of a comparison by sound; errors as of `rank_sound`."""
    _refuse(asked)
    book, graph = sounds.book, sounds.graph
    fans = sorted(
        {each.fan for each in graph.sounding()} | {each.fan for each in graph.mountings()} | set(book.fans)
    )
    if unknown := [each for each in asked.only if each not in fans]:
        raise UnknownThing("fan", found=repr(unknown[0]), expected=", ".join(fans) or "a fan of the lab")
    if not asked.only:
        sounds.agree_on_spread(blocked)
    obstacle = obstacle_of(sounds, asked.condition.obstacle)
    size = asked.size or usual_size(book, list(sounds.comparable.nodes))
    taking, gone = [], []
    for fan in fans:
        if why := why_not(book, fan, asked, size):
            gone.append(Excluded(fan, why))
        else:
            taking.append(fan)
    way = Way(sounds, asked, obstacle, blocked, progress, workers)
    cases, failed = way.cases(taking)
    told = _conditions(sounds, asked, obstacle, size, cases)
    return SoundAnswer(tuple(cases), (*gone, *failed), told, sounds.comparable.notes)


def _refuse(asked: Asked) -> None:
    """Conditions under which a measure of sound can't be taken."""
    measure, condition = asked.measure, asked.condition
    name = f"measure {measure.name}"
    if measure.origin is Origin.LIMIT and not condition.is_limited:
        raise NotPossible(name, found="no noise limit", expected="--noise, such as 35 or '1.5 sone'")
    if measure.name == LEVEL and condition.is_limited:
        raise NotPossible(
            name, found="--noise", expected="limited-speed, loudness, or an airflow at that noise"
        )
    if condition.for_flow is not None and not condition.obstacle:
        raise NotPossible(name, found="--for-flow without --through", expected="what the air goes through")
    if condition.for_flow is not None and (measure.origin is Origin.LIMIT or measure.name == SHARPNESS):
        raise NotPossible(name, found="--for-flow", expected="level or loudness at an airflow")
    if condition.for_heat is not None and (measure.origin is Origin.LIMIT or measure.name == SHARPNESS):
        raise NotPossible(name, found="--for-heat", expected="level or loudness at a temperature rise")
    if condition.for_heat is not None and (condition.obstacle or not condition.system.is_single):
        raise NotPossible(
            name,
            found="--for-heat with another obstacle or system",
            expected="neither: the rig has its own radiator and fans",
        )
    if condition.rig and condition.for_heat is None:
        raise NotPossible(name, found=f"--rig {condition.rig}", expected="--for-heat, or a measure of heat")
    system = condition.system
    several = system.beside > 1 or system.push_pull is not None
    if several and measure.name in (LOUDNESS, SHARPNESS):
        raise NotPossible(
            name, found="several fans", expected="one fan, or their level: loudness doesn’t add so"
        )


def obstacle_of(sounds: Sounds, text: str) -> str:
    """The obstacle that words of --through mean, as sound was measured with it; "" in free air.

    Raises
    ------
    UnknownThing : a name that is no obstacle of the lab. NotPossible : an obstacle that was never measured.
    """
    heard = sorted({each.obstacle for each in sounds.graph.sounding() if each.obstacle})
    named = [each for each in heard if text in (each, versions.bare(each))]
    if named:
        return named[-1]
    through = through_of(sounds.book, sounds.graph, text)
    return through.mounted or through.words


def _conditions(
    sounds: Sounds, asked: Asked, obstacle: str, size: float | None, cases: Iterable[SoundCase]
) -> dict[str, Plain]:
    condition = asked.condition
    geometry = sounds.comparable.geometry
    free = [FREE_AIR in each.candidate.marks for each in cases]
    way = None
    if obstacle and free:
        way = (
            "measured with the obstacle mounted"
            if not any(free)
            else FREE_AIR
            if all(free)
            else f"in part {FREE_AIR}"
        )
    distance = "not told" if geometry.distance is None else f"{geometry.distance:g} m"
    told: dict[str, Plain] = {
        "speed": speed_words(condition, geometry),
        "obstacle": condition.obstacle or None,
        "obstacle version": None,
        "way": way,
        "density": f"{density_words(condition.system)}, {AS_HEARD}" if condition.for_flow else AS_HEARD,
        "size": f"{size * 1000:.0f} mm" if size else None,
        "distance": distance,
    }
    told |= {name: value for name, value in system_told(condition.system).items() if value is not None}
    if condition.for_heat is not None:
        told |= _of_heat(sounds, asked)
    sound = limit_conditions(sounds) if condition.is_limited else sounds.comparable.conditions
    if marks := system_marks(condition.system):
        told["modelled"] = ", ".join(marks).replace("modelled for ", "")
    return told | sound


def _of_heat(sounds: Sounds, asked: Asked) -> dict[str, Plain]:
    """The heat rig on which the speeds for a temperature rise were found."""
    heat = heat_field(sounds.lab, sounds.book, sounds.graph, rig_asked(sounds.graph, asked.condition.rig), {})
    radiator = heat.rig.radiator or None
    level = (
        {"fans on the radiator": f"{heat.rig.fans}, the level is that of one"} if heat.rig.fans > 1 else {}
    )
    return {"obstacle": radiator, "density": AS_HEARD, **heat.conditions, **level}
