"""The speed that a noise limit allows a fan: from all its sound, with an obstacle mounted or in free air."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.intervals import coverage_interval
from stillroom.core.row_speeds import RowSpeeds
from stillroom.core.sound.fan_levels import FanLevels
from stillroom.core.sound.folds import LEAST_SPEEDS, Fold, folds
from stillroom.core.sound.limit import LimitRule, LimitSpeed, limit_speed
from stillroom.core.sound.orders import NamedTone
from stillroom.core.sound.sound_mounting import Geometry
from stillroom.core.standards.iso_532_1_2017.loudness import phon_from_sone, sone_from_phon
from stillroom.core.systems import System
from stillroom.errors import NotPossible
from stillroom.lab.book import Book
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.fan_sound import FREE_AIR, FanSound, Sounds
from stillroom.lab.sound.kept_limits import KIND, arrays_of, row_speeds_of
from stillroom.lab.sound.level_words import (
    LOCKED,
    TOO_LOUD,
    Shown,
    frequency_at,
    limit_marks,
    limit_words,
    shown_level,
    tone_words,
    too_loud_words,
)
from stillroom.lab.sound.settings_at import SettingAt, setting_from_sound
from stillroom.measures import Condition
from stillroom.records.keys import key_of
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result, save_arrays

__all__ = ["FREE_AIR", "FanLimit", "fan_limit", "kept_limit"]

VERSION = 3
"""Raised when the same sound would give another limit."""

NEAR = 0.05
"""How far a dwell may lie from the speed of a limit and still tell its tones [1]."""


@dataclass(frozen=True)
class FanLimit:
    """The speed at which a fan meets a noise limit.

    Parameters
    ----------
    fan : its name. limit : the speeds allowed, (1 + k + M,), and how the limit is met. levels : of the fan, A-weighted.
    speeds : the same speeds as a curve of airflow takes them. sources : identities of the k shared sources.
    geometry : of the microphone. obstacle_used : with which the sound was measured, "" in free air.
    samples, mountings : what the levels rest on. key : of the kept result.
    level : at that speed, with its 95 % interval [dB(A)]; is_bound : it is at most that.
    setting : duty or voltage at that speed by the dwells; None where no dwell tells it.
    loudness : there, with its 95 % interval [sone]; None where no bands were read.
    tones : the prominent ones of the dwells nearest to that speed. marks : what must be said beside.
    why : why the fan has no such speed, or "".
    """

    fan: str
    limit: LimitSpeed
    levels: FanLevels
    speeds: RowSpeeds
    sources: tuple[str, ...]
    geometry: Geometry
    obstacle_used: str
    samples: int
    mountings: int
    key: str
    level: tuple[float, float, float]
    is_bound: bool
    setting: SettingAt | None = None
    loudness: tuple[float, float, float] | None = None
    tones: tuple[NamedTone, ...] = ()
    marks: tuple[str, ...] = ()
    why: str = ""

    @property
    def duty(self) -> float | None:
        """At that speed [1]; None where no dwell tells it."""
        return self.setting.value if self.setting and self.setting.kind == "duty" else None

    @property
    def interval(self) -> tuple[float, float]:
        """95 % interval of the speed [1/s]."""
        low, high = coverage_interval(self.limit.speeds[1 + len(self.sources) :])
        return float(low), float(high)


def fan_limit(
    lab: Lab,
    book: Book,
    graph: Graph,
    fan: str,
    obstacle: str,
    condition: Condition,
    sounds: Sounds | None = None,
) -> FanLimit:
    """The speed that the noise limit of a condition allows a fan.

    Parameters
    ----------
    obstacle : with which the fan stands, "" in free air; where no sound was measured with it, the sound in free air
        stands in and is marked so.
    sounds : the sound of the lab, where it is at hand.

    Raises
    ------
    NotPossible : no sound of the fan that can be compared, with why; no limit, or one that can't be met in parts.
    """
    sounds = sounds or Sounds(lab, book, graph)
    key = _key(sounds, fan, obstacle, condition)
    found: FanLimit = sounds.limits.get(key, lambda: _found(sounds, fan, obstacle, condition, key))
    return found


def _found(sounds: Sounds, fan: str, obstacle: str, condition: Condition, key: str) -> FanLimit:
    used = sounds.fan(fan, obstacle)
    curves = used.levels if condition.sone is None else used.phons
    levels = curves if condition.sone is None else used.levels
    rule = LimitRule(sounds.book.settings.sound.rule)
    limit, shared = (
        _limit(curves, part, target_level(condition), rule, reaches_full=used.is_full(curves.reach[1]))
        for part in (Part.TOTAL, Part.SHARED)
    )
    speed = float(limit.speeds[0])
    shown = shown_level(condition, used.geometry)
    tones = tones_near(used, speed)
    return FanLimit(
        fan=fan,
        limit=limit,
        levels=levels,
        speeds=row_speeds_of(fan, limit, shared, curves.sources),
        sources=curves.sources,
        geometry=used.geometry,
        obstacle_used=used.obstacle,
        samples=levels.samples,
        mountings=levels.mountings,
        key=key,
        level=value_at(levels, speed),
        is_bound=bool(levels.bound[_nearest(levels.speeds, speed)]),
        setting=setting_from_sound([each.sound.settings for each in used.heard], speed),
        loudness=_loudness(used, speed),
        tones=tones,
        marks=(
            *used.marks,
            *limit_marks(
                limit, shown, 1 + len(curves.sources), limit_words(condition), louder_than_higher(curves)
            ),
            *(tone_words(each, speed) for each in tones),
            *_air_marks(condition.system),
        ),
        why=_why(limit, shown, curves),
    )


def target_level(condition: Condition) -> float:
    """The level that one of the fans may have [dB(A)], or its loudness level [phon] where the limit is in sone.

    n equal fans together are 10 lg n louder than one (incoherent sources, as of ISO 3744:2010's sums of energy).

    Raises
    ------
    NotPossible : no limit, or one in sone for several fans: their loudness doesn't add so.
    """
    if condition.noise is not None:
        return condition.noise - gain_of(condition)
    if condition.sone is None:
        raise NotPossible("noise limit", found="none", expected="--noise, such as 35 or '1.5 sone'")
    n = condition.system.fans
    if n > 1:
        raise NotPossible(
            f"{condition.sone:g} sone of {n} fans together",
            found="a limit in sone, which does not add up over fans as dBA does",
            expected="one in dBA: levels of equal fans add up by 10 lg n, their loudness doesn’t",
        )
    return float(phon_from_sone(condition.sone))


def gain_of(condition: Condition) -> float:
    """By how much n equal fans together are louder than one: 10 lg n [dB]."""
    return 10.0 * math.log10(condition.system.fans)


def _limit(
    curves: FanLevels, part: Part, target: float, rule: LimitRule, *, reaches_full: bool
) -> LimitSpeed:
    return limit_speed(
        curves.rows(part, curves.sources),
        curves.speeds,
        target,
        rule,
        bound=curves.bound,
        points=curves.points,
        sources=len(curves.sources),
        reaches_full=reaches_full,
    )


def louder_than_higher(curves: FanLevels) -> tuple[Fold, ...]:
    """The bands of speed in which a fan is louder than at a higher speed; none where too few speeds tell any."""
    if len(curves.speeds) < LEAST_SPEEDS:
        return ()
    rows = curves.rows(Part.TOTAL, curves.sources)
    return folds(curves.speeds, rows, sources=len(curves.sources), bound=curves.bound)


def _why(limit: LimitSpeed, shown: Shown, curves: FanLevels) -> str:
    return too_loud_words(limit, shown, curves.reach[0]) if limit.too_loud[0] else ""


def _air_marks(system: System) -> Sequence[str]:
    """The level is that of the quiet room's air."""
    return ("noise as in the quiet room’s air",) if system.air != System().air else ()


def _nearest(speeds: Array, speed: float) -> int:
    return int(np.argmin(np.abs(speeds - speed)))


def value_at(levels: FanLevels, speed: float) -> tuple[float, float, float]:
    """A level at a speed [1/s], with its 95 % interval."""
    rows = levels.rows(Part.TOTAL, levels.sources, np.array([speed]))[:, 0]
    low, high = coverage_interval(rows[1 + len(levels.sources) :])
    return float(rows[0]), float(low), float(high)


def _loudness(used: FanSound, speed: float) -> tuple[float, float, float] | None:
    """Loudness at a speed [sone]; None where a mounting has no levels in bands, only ramps reach, or it is a bound."""
    if any(each.sound.phons is None for each in used.heard):
        return None
    low, high = used.phons.reach
    if not low <= speed <= high or used.phons.bound[_nearest(used.phons.speeds, speed)]:
        return None
    value, low, high = sone_from_phon(np.array(value_at(used.phons, speed)))
    return float(value), float(low), float(high)


def tones_near(used: FanSound, speed: float) -> tuple[NamedTone, ...]:
    """The prominent tones of the dwells nearest to a speed [1/s], each once, where the room can tell them."""
    found: dict[tuple[str, int], NamedTone] = {}
    lowest = used.geometry.room_from or 0.0
    for each in used.heard:
        near = min(each.sound.dwells, key=lambda dwell: abs(dwell.speed - speed), default=None)
        if near is None or abs(near.speed - speed) > NEAR * speed:
            continue
        for tone in near.tones:
            frequency = frequency_at(tone, speed)
            if tone.tone.prominent and frequency >= lowest:
                place = round(tone.order) if tone.origin in LOCKED else round(frequency / 10.0)
                found.setdefault((tone.origin.value, place), tone)
    return tuple(sorted(found.values(), key=lambda tone: frequency_at(tone, speed)))


# --- kept, so that a number can be followed ----------------------------------------------------------------


def kept_limit(sounds: Sounds, fan: str, obstacle: str, condition: Condition) -> Result:
    """The limit of a fan as it is kept, worked out where it isn't there yet; failed where it is too loud.

    Raises
    ------
    NotPossible : as of `fan_limit`.
    """
    lab, key = sounds.lab, _key(sounds, fan, obstacle, condition)
    if key in results.known(lab.database, lab.path, [key]):
        there = results.get(lab.database, key)
        if there is not None:
            return there
    found = fan_limit(lab, sounds.book, sounds.graph, fan, obstacle, condition, sounds)
    nodes = sounds.nodes(fan, obstacle)
    inputs = {"sounds": {each.subject: each.key for each in nodes}}
    if bridges := sounds.comparable.bridges(nodes):
        inputs["bridges"] = bridges
    body = _body(found, condition, sounds.book.settings.sound.rule)
    kept = Result(key, KIND, fan, inputs, f"noise limit {VERSION}", not found.why, body)
    if not found.why:
        save_arrays(lab.path, key, arrays_of(found.speeds))
    lab.put_results([kept])
    return kept


def _key(sounds: Sounds, fan: str, obstacle: str, condition: Condition) -> str:
    spreads = sounds.spreads
    return key_of(
        KIND,
        VERSION,
        fan,
        obstacle,
        [sounds.comparable.key(each) for each in sounds.nodes(fan, obstacle)],
        [[each.sd, each.dof] for each in (spreads.mounting, spreads.sample)],
        condition.noise,
        condition.sone,
        condition.system,
        sounds.book.settings.sound.rule,
    )


def _body(found: FanLimit, condition: Condition, rule: str) -> dict[str, Any]:
    """What is kept beside the speeds, in plain words and numbers; speeds in 1/s."""
    limit, (low, high) = found.limit, found.interval
    return {
        "limit": limit_words(condition, found.geometry),
        "rule": rule,
        "reached": limit.reached.value,
        "speed": float(limit.speeds[0]),
        "low": low,
        "high": high,
        "strict": float(limit.strict[0]),
        "highest": float(limit.highest[0]),
        "avoid": [list(each) for each in limit.avoid],
        "level": list(found.level),
        "at_least": limit.at_least,
        "bracket": limit.bracket,
        "obstacle": found.obstacle_used,
        "distance": found.geometry.distance,
        "samples": found.samples,
        "mountings": found.mountings,
        "loudness": list(found.loudness) if found.loudness else None,
        "sources": list(found.speeds.sources),
        "marks": list(found.marks),
        "too_loud": found.why.startswith(TOO_LOUD),
        **({"failed": found.why} if found.why else {}),
    }
