"""Fans in order by a measure of sound: level, loudness, sharpness, and the speed that a noise limit allows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from stillroom.compare.standing import Ranking
from stillroom.errors import NotPossible
from stillroom.lab import versions
from stillroom.lab.answered import Answered, ranked, taking_part
from stillroom.lab.book import Book
from stillroom.lab.cases import density_words, speed_words
from stillroom.lab.executor import Progress
from stillroom.lab.field import Asked
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
    sounds = Sounds(lab, book, graph)
    return ranked(lab, book, asked, sound_cases(sounds, asked, blocked, progress, workers))


AS_HEARD = "levels in the quiet room’s own air"
"""No level is brought to 1.2 kg/m³: that would move it by 20 lg(1.2/ρ), some tenths of a dB near the sea."""


def sound_cases(
    sounds: Sounds, asked: Asked, blocked: Mapping[str, str], progress: Progress, workers: int = 0
) -> Answered[SoundCase]:
    """The fans of a comparison by sound; errors as of `rank_sound`."""
    _refuse(asked)
    taking = taking_part(sounds.book, sounds.graph, asked, list(sounds.comparable.nodes))
    if not asked.only:
        sounds.agree_on_spread(blocked)
    obstacle = obstacle_of(sounds, asked.condition.obstacle)
    way = Way(sounds, asked, obstacle, blocked, progress, workers)
    cases, failed = way.cases(list(taking.fans))
    told = _conditions(sounds, asked, obstacle, taking.size, cases)
    return Answered(tuple(cases), (*taking.gone, *failed), told, sounds.comparable.notes)


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
