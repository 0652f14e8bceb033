"""From sound to the other rigs: at which speed and duty each fan meets each noise limit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from stillroom.core.mounted import MountedFan
from stillroom.core.sound.limit import LimitSpeed
from stillroom.core.systems import Load
from stillroom.errors import NotPossible, StillroomError, UnknownThing
from stillroom.lab.curves import load_fan
from stillroom.lab.field import usual_size, why_not
from stillroom.lab.sound.fan_sound import Sounds
from stillroom.lab.sound.level_words import frequency_at, limit_words
from stillroom.lab.sound.limited_field import limit_conditions, sound_obstacle
from stillroom.lab.sound.limits import FanLimit, fan_limit, kept_limit
from stillroom.lab.sound.next_dwells import NextDwell, next_dwells
from stillroom.lab.sound.settings_at import SettingAt, setting_from_airflow
from stillroom.lab.system_words import Plain
from stillroom.lab.through import Through, load_of, through_of
from stillroom.measures import Condition
from stillroom.store import results
from stillroom.store.results import Result


@dataclass(frozen=True)
class HeardTone:
    """A tone at the speed of a limit: where it lies [Hz], and what it comes from, in words."""

    frequency: float
    origin: str


@dataclass(frozen=True)
class AtNoise:
    """A fan at a noise limit; speeds in 1/s, levels in dB(A).

    Parameters
    ----------
    fan, limit : whose, and which limit in words, with the distance. noise [dB(A)], sone : as asked for.
    speed, low, high : that it allows, with its 95 % interval; None where the fan has none, then `why`.
    highest, strict : the highest speed at or under the limit, and that up to which it is never exceeded.
    avoid : bands of speed in which the limit is exceeded. tops_out : whether the limit is never reached.
    level, loudness : at that speed, (value, low, high) [dB(A), sone]. is_bound : the level is at most that.
    setting : that gives the speed; None where nothing tells it. tones : prominent ones there.
    obstacle : with which the sound was measured, "" in free air. marks : beside it. key : for `trace`.
    """

    fan: str
    limit: str
    noise: float | None
    sone: float | None
    speed: float | None = None
    low: float | None = None
    high: float | None = None
    highest: float | None = None
    strict: float | None = None
    avoid: tuple[tuple[float, float], ...] = ()
    tops_out: bool = False
    level: tuple[float, float, float] | None = None
    is_bound: bool = False
    loudness: tuple[float, float, float] | None = None
    setting: SettingAt | None = None
    tones: tuple[HeardTone, ...] = ()
    obstacle: str = ""
    samples: int = 0
    mountings: int = 0
    marks: tuple[str, ...] = ()
    key: str = ""
    why: str = ""


@dataclass(frozen=True)
class SetList:
    """The rows of a set list, fans by name, limits rising; under what they hold, and who is left out.

    `next_dwells` are the speeds at which one more dwell would make the list surest.
    """

    rows: tuple[AtNoise, ...]
    conditions: Mapping[str, Plain]
    left_out: tuple[tuple[str, str], ...]
    next_dwells: tuple[NextDwell, ...] = ()


def set_list(
    sounds: Sounds,
    conditions: Sequence[Condition],
    *,
    size: float | None = None,
    only: Sequence[str] = (),
) -> SetList:
    """At which speed and setting each fan meets each of several noise limits.

    Parameters
    ----------
    conditions : one a limit, all with the same obstacle and system. size : class of the fans [m]. only : these.

    Raises
    ------
    UnknownThing : an obstacle or a fan that the lab doesn't know. NotPossible : no fan with sound.
    """
    book, graph = sounds.book, sounds.graph
    first = conditions[0]
    through = through_of(book, graph, first.obstacle)
    fans = sorted({each.fan for each in graph.sounding()})
    known = sorted({*fans, *book.fans, *(each.fan for each in graph.mountings())})
    if unknown := [each for each in only if each not in known]:
        raise UnknownThing("fan", found=repr(unknown[0]), expected=", ".join(known) or "a fan of the lab")
    if not fans:
        raise NotPossible(
            "set list", found="no sound of any fan", expected="recordings, or a sheet of levels"
        )
    size = size or usual_size(book, fans)
    rows: list[AtNoise] = []
    left_out: list[tuple[str, str]] = []
    for fan in only or fans:
        if why := why_not(book, fan, size):
            left_out.append((fan, why))
            continue
        rows += [at_noise(sounds, fan, through, each) for each in conditions]
    told: dict[str, Plain] = {
        "noise": ", ".join(limit_words(each) for each in conditions),
        "obstacle": first.obstacle or None,
        "size": f"{size * 1000:.0f} mm" if size else None,
    }
    listed = list(dict.fromkeys(each.fan for each in rows))
    dwells = next_dwells(sounds, listed, sound_obstacle(through), conditions)
    return SetList(tuple(rows), told | limit_conditions(sounds), tuple(left_out), dwells)


def at_noise(sounds: Sounds, fan: str, through: Through, condition: Condition) -> AtNoise:
    """A fan at the noise limit of a condition; what it can't be told is said in `why`."""
    geometry = sounds.comparable.geometry
    empty = AtNoise(fan, limit_words(condition, geometry), condition.noise, condition.sone)
    obstacle = sound_obstacle(through)
    try:
        kept = kept_limit(sounds, fan, obstacle, condition)
        if kept.failed:
            return replace(empty, why=kept.failed, key=kept.key)
        found = fan_limit(sounds.lab, sounds.book, sounds.graph, fan, obstacle, condition, sounds)
    except NotPossible as error:
        return replace(empty, why=error.found)
    return _told(empty, found, _setting(sounds, fan, through, condition, found))


def _told(empty: AtNoise, found: FanLimit, setting: SettingAt | None) -> AtNoise:
    limit: LimitSpeed = found.limit
    speed = float(limit.speeds[0])
    low, high = found.interval
    return replace(
        empty,
        speed=speed,
        low=low,
        high=high,
        highest=float(limit.highest[0]),
        strict=float(limit.strict[0]),
        avoid=limit.avoid,
        tops_out=bool(limit.tops_out[0]),
        level=found.level,
        is_bound=found.is_bound,
        loudness=found.loudness,
        setting=setting,
        tones=tuple(HeardTone(frequency_at(each, speed), each.origin.value) for each in found.tones),
        obstacle=found.obstacle_used,
        samples=found.samples,
        mountings=found.mountings,
        marks=found.marks,
        key=found.key,
    )


def _setting(
    sounds: Sounds, fan: str, through: Through, condition: Condition, found: FanLimit
) -> SettingAt | None:
    """By the airflow sweeps at the operating point where they tell it, else by the dwells."""
    load, fans = _airflow(sounds, fan, through)
    speed = float(found.limit.speeds[0])
    return setting_from_airflow(fans, load, condition, speed) or found.setting


def _airflow(sounds: Sounds, fan: str, through: Through) -> tuple[Load | None, list[MountedFan]]:
    """What the air goes through, and the reduced mountings of a fan; none where they can't be had."""
    lab = sounds.lab
    own = [
        each for each in sounds.graph.mountings(fan) if each.fan == fan and each.obstacle == through.mounted
    ]
    kept = [results.get(lab.database, each.key) for each in own]
    obstacles: dict[str, Result] = {}
    for node in through.nodes:
        result = results.get(lab.database, node.key)
        if result is None or result.failed:
            return None, []
        obstacles[node.key] = result
    try:
        load = load_of(lab.path, through, obstacles)
        return load, [load_fan(lab.path, each) for each in kept if each is not None and not each.failed]
    except StillroomError:
        return None, []  # arrays that are gone: the dwells may tell the setting
