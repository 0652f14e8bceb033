"""Noise-limited speed: the highest speed at which a fan keeps to a limit, on every row of a stack of curves.

A curve of level against speed needn't rise all the way: at a resonance it can meet a limit three times. Which
speed is meant is a rule that the lab fixes beforehand.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound.level_points import LevelPoint
from stillroom.core.standards.limits import require_finite
from stillroom.errors import BadInput

Flags = NDArray[np.bool_]

APART = 0.03
"""The two rules' speeds differ where they are further apart than this [1]."""

AMBIGUOUS_FROM = 0.05
"""Share of trials with two speeds from which a noise-limited speed is not unique [1]."""


class LimitRule(Enum):
    """Which speed is meant where a curve crosses the limit more than once."""

    HIGHEST = "highest"
    NEVER_EXCEEDED = "never exceeded"


class Reached(Enum):
    """How a fan stands to a limit within the speeds measured."""

    AT_LIMIT = "at the limit"
    TOPS_OUT = "tops out"
    NOT_SO_QUIET = "can't run this quiet"


@dataclass(frozen=True)
class LimitSpeed:
    """A fan's noise-limited speed.

    Parameters
    ----------
    speeds : by the rule asked for, each row its own, within the speeds measured: the highest of these where a
        row tops out, the lowest where it is too loud everywhere, (rows,) [1/s].
    strict : the same by `LimitRule.NEVER_EXCEEDED`. highest : the same by `LimitRule.HIGHEST`.
    reached : of the central row, by the rule.
    tops_out : rows that are under the limit at the highest speed (`HIGHEST`), or up to it (`NEVER_EXCEEDED`).
    too_loud : rows that are over it at every speed (`HIGHEST`), or at the lowest (`NEVER_EXCEEDED`).
    avoid : ranges of speed below the highest speed at the limit where the central level is over it [1/s].
    level_at_top, level_at_bottom : central level at the ends of the speeds measured [dB].
    at_least : the limit lies where there are bounds only, or above all that was measured: the speed is this or
        higher. With `NOT_SO_QUIET`: whether the fan runs so quiet is beyond what was measured.
    falls_short : under the limit at the highest speed measured, which is not the fan's full speed.
    top_is_bound, bottom_is_bound : whether the levels at the ends rest on bounds only.
    bracket : how far apart the levels measured next below and next above the central speed are, the widest of
        the mountings [dB], and between : at which speeds they were measured [1/s]; None where the speed has no level
        on both sides in any.
    ambiguous : share of trials in which the two rules differ by more than 3 % [1].
    unique : whether that share is at most 5 %.
    """

    speeds: Array
    strict: Array
    highest: Array
    reached: Reached
    tops_out: Flags
    too_loud: Flags
    avoid: tuple[tuple[float, float], ...]
    level_at_top: float
    level_at_bottom: float
    at_least: bool
    falls_short: bool
    top_is_bound: bool
    bottom_is_bound: bool
    bracket: float | None
    between: tuple[float, float] | None
    ambiguous: float
    unique: bool

    @property
    def rules_differ(self) -> bool:
        """Whether the two rules' central speeds are more than 3 % apart."""
        return bool(self.highest[0] > self.strict[0] * (1.0 + APART))


def limit_speed(
    levels_rows: Array,
    speeds: Array,
    limit: float,
    rule: LimitRule = LimitRule.HIGHEST,
    *,
    bound: Flags | None = None,
    points: Sequence[LevelPoint] = (),
    sources: int = 0,
    reaches_full: bool = True,
) -> LimitSpeed:
    """The noise-limited speed of every row.

    Parameters
    ----------
    levels_rows : row 0 central, k rows moved by sources, trials, (1 + k + M, g) [dB].
    speeds : of the grid, rising, (g,) [1/s].
    limit : [dB], on the same scale as the levels.
    rule : which speed is meant where there are several.
    bound : where the curve rests on bounds only, (g,); None: nowhere.
    points : what the curve was fitted to, for `bracket`.
    sources : k, so that the rows moved by sources don't count as trials.
    reaches_full : whether the highest speed is the fan's full speed; else no row tops out: a fan that keeps to the
        limit there may keep to it beyond.

    Returns
    -------
    LimitSpeed. Between the speeds of the grid each curve is a straight line.

    Raises
    ------
    BadInput : fewer than two speeds, or another number of levels.
    OutOfRange : a level or a limit that is not a finite number.
    """
    speeds = np.asarray(speeds, dtype=np.float64)
    levels = require_finite("level", levels_rows, "dB")
    require_finite("noise limit", limit, "dB")
    if levels.ndim != 2 or speeds.shape != levels.shape[1:] or speeds.size < 2:
        raise BadInput(
            "curves of level against speed",
            found=f"{levels.shape} levels at {speeds.size} speeds",
            expected="a level at each of two or more speeds",
        )
    keeps: Flags = levels <= limit
    highest = _highest(levels, keeps, speeds, limit)
    strict = _strict(levels, keeps, speeds, limit)
    by_rule = rule is LimitRule.HIGHEST
    under: Flags = np.asarray(keeps[:, -1] if by_rule else keeps.all(axis=1))
    tops_out: Flags = under & reaches_full
    falls_short = bool(under[0]) and not reaches_full
    on_bounds = np.zeros(speeds.size, dtype=np.bool_) if bound is None else bound
    too_loud: Flags = np.asarray(~keeps.any(axis=1) if by_rule else ~keeps[:, 0])
    chosen = highest if by_rule else strict
    apart = (highest > strict * (1.0 + APART))[1 + sources :]
    around = measured_around(points, float(chosen[0]))
    ambiguous = float(apart.mean()) if apart.size else float(highest[0] > strict[0] * (1.0 + APART))
    return LimitSpeed(
        speeds=chosen,
        strict=strict,
        highest=highest,
        reached=_reached(bool(tops_out[0]), bool(too_loud[0])),
        tops_out=tops_out,
        too_loud=too_loud,
        avoid=tuple(_over(levels[0], keeps[0], speeds, limit, float(highest[0]))),
        level_at_top=float(levels[0, -1]),
        level_at_bottom=float(levels[0, 0]),
        at_least=falls_short or (not under[0] and _on_bounds(on_bounds, speeds, float(chosen[0]))),
        falls_short=falls_short,
        top_is_bound=bool(on_bounds[-1]),
        bottom_is_bound=bool(on_bounds[0]),
        bracket=abs(around[1].level - around[0].level) if around else None,
        between=(around[0].speed, around[1].speed) if around else None,
        ambiguous=ambiguous,
        unique=ambiguous <= AMBIGUOUS_FROM,
    )


def _reached(tops_out: bool, too_loud: bool) -> Reached:
    if too_loud:
        return Reached.NOT_SO_QUIET
    return Reached.TOPS_OUT if tops_out else Reached.AT_LIMIT


def _crossing(levels: Array, speeds: Array, limit: float, below: NDArray[np.int64]) -> Array:
    """Where each row's line from place `below` to the next one meets the limit, (rows,) [1/s]."""
    rows = np.arange(len(levels))
    low, high = levels[rows, below], levels[rows, below + 1]
    rise = high - low
    share = np.clip((limit - low) / np.where(rise == 0.0, 1.0, rise), 0.0, 1.0)
    return np.asarray(speeds[below] + share * (speeds[below + 1] - speeds[below]))


def _highest(levels: Array, keeps: Flags, speeds: Array, limit: float) -> Array:
    last = speeds.size - 1 - np.argmax(keeps[:, ::-1], axis=1)  # the last place at or under the limit
    crossing = _crossing(levels, speeds, limit, np.minimum(last, speeds.size - 2))
    return np.where(keeps[:, -1], speeds[-1], np.where(keeps.any(axis=1), crossing, speeds[0]))


def _strict(levels: Array, keeps: Flags, speeds: Array, limit: float) -> Array:
    first = np.argmin(keeps, axis=1)  # the first place over the limit
    crossing = _crossing(levels, speeds, limit, np.maximum(first - 1, 0))
    return np.where(keeps.all(axis=1), speeds[-1], np.where(keeps[:, 0], crossing, speeds[0]))


def _over(
    level: Array, keeps: Flags, speeds: Array, limit: float, below: float
) -> Iterator[tuple[float, float]]:
    """Ranges of speed up to `below` where one curve is over the limit."""
    edges = np.flatnonzero(np.diff(keeps.astype(np.int8)))
    cuts = [float(_crossing(level[None, :], speeds, limit, np.array([edge]))[0]) for edge in edges]
    starts = [float(speeds[0])] if not keeps[0] else []
    starts += [cut for cut, edge in zip(cuts, edges, strict=True) if keeps[edge]]
    ends = [cut for cut, edge in zip(cuts, edges, strict=True) if not keeps[edge]]
    for start, end in zip(
        starts, ends, strict=False
    ):  # a range that doesn't end lies above the highest speed
        if end <= below:
            yield start, end


def _on_bounds(bound: Flags, speeds: Array, speed: float) -> bool:
    """Whether a speed lies next to a place of the grid that rests on bounds only."""
    right = int(np.clip(np.searchsorted(speeds, speed, side="left"), 1, speeds.size - 1))
    return bool(bound[right - 1] or bound[right])


def measured_around(points: Sequence[LevelPoint], speed: float) -> tuple[LevelPoint, LevelPoint] | None:
    """The levels next below and next above a speed, of the mounting in which they lie furthest apart.

    Parameters
    ----------
    points : of one mounting or several; bounds among them don't count.
    speed : about which the levels lie [1/s].

    Returns
    -------
    The two; None where no mounting has levels on both sides.
    """
    by_mounting: dict[str, list[LevelPoint]] = defaultdict(list)
    for each in points:
        if not each.is_bound:
            by_mounting[each.mounting].append(each)
    found = []
    for group in by_mounting.values():
        below = max(
            (each for each in group if each.speed <= speed), key=lambda each: each.speed, default=None
        )
        above = min(
            (each for each in group if each.speed >= speed), key=lambda each: each.speed, default=None
        )
        if below is not None and above is not None:
            found.append((below, above))
    return max(found, key=lambda pair: abs(pair[1].level - pair[0].level), default=None)
