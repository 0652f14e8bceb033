"""The speed that a noise limit allows a fan, as a table over limits: looked up between its knots.

A limit that crosses a resonance makes the speed jump. There two knots stand at one limit, the one before the jump
and the one after it; on either side of it the interval already reaches over to the other speed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import IntFlag

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.intervals import coverage_ranks
from stillroom.core.row_speeds import HEARD_UP_TO
from stillroom.core.sound.fan_levels import FanLevels
from stillroom.core.sound.limit import APART, LimitRule, limit_speed
from stillroom.errors import NotPossible
from stillroom.lab.sound.fan_sound import FanSound
from stillroom.lab.sound.level_words import (
    TOPS_OUT,
    TWO_SPEEDS_FROM,
    shown_level,
    speed_in_words,
    too_loud_words,
)
from stillroom.lab.sound.limits import louder_than_higher
from stillroom.measures import Condition

VERSION = 2
"""Raised when the same sound would give another table."""

TRIALS = 2000
STEP = 0.1
"""Of the limits that a table is made from [dB]."""

MOST_KNOTS = 36
NEAR_ENOUGH = 0.04
"""How far a table may lie from what it stands for, as a share of half the interval [1]."""

JUMP = 0.003
"""A speed that changes by more than this between two neighbouring limits jumps [1]."""

FELT = 0.15
"""A jump by less than this share of half the interval is not kept as one [1]."""

LEAP = 0.3
"""An end of the interval that changes by more than this share of half of it leaps [1]."""

CLOSELY = 17
"""Limits that are looked at from one before a leap to the next."""

BESIDE = 2e-3
"""How far before a jump its first knot stands [dB]."""


class At(IntFlag):
    """What holds at a knot: of the central speed, of the ends of its interval, and what must be said."""

    FULL = 1
    LOW_FULL = 2
    HIGH_FULL = 4
    AT_LEAST = 8
    HEARD_SHORT = 16
    TWO_SPEEDS = 32
    MAY_BE_LOUD = 64


MAY_BE_LOUD = 0.05
"""Share of trials too loud at every speed from which that is said [1]."""

Flags = NDArray[np.int64]
Rows = NDArray[np.float64]


@dataclass(frozen=True)
class SpeedTable:
    """What limits allow one fan, heard with one obstacle or in free air.

    Parameters
    ----------
    limits : A-weighted levels of one fan, rising, equal in pairs where the speed jumps, (m,) [dB].
    speed, low, high : central speed and its 95 % interval, (m,) [1/s].
    sd : relative standard deviation of the speed, all errors, (m,) [1]. own : share of its variance that no other fan
    has, (m,) [1]. flags : `At` of each knot, (m,).
    sources, effects : shared sources, and what +1 standard deviation of each does to the level, (k,) [dB].
    obstacle : with which it was heard, "" in free air. marks : said beside any speed.
    loud : why a limit below the lowest can't be met. topping : said at the highest speed heard.
    """

    limits: Array
    speed: Array
    low: Array
    high: Array
    sd: Array
    own: Array
    flags: Flags
    sources: tuple[str, ...]
    effects: Array
    obstacle: str
    marks: tuple[str, ...]
    loud: str
    topping: str


def speed_table(heard: FanSound, rule: LimitRule, usual: Sequence[float] = ()) -> SpeedTable:
    """The table of a fan from its sound.

    Parameters
    ----------
    heard : its sound, with an obstacle or in free air. rule : which speed is meant where there are several.
    usual : limits of the lab [dB]: each is a knot, since it is what a release prints.

    Raises
    ------
    NotPossible : levels that don't change with speed, so that no limit lies between them.
    """
    levels = heard.levels
    total = levels.rows(Part.TOTAL, levels.sources)
    fixed = 1 + len(levels.sources)
    shared = levels.rows(Part.SHARED, levels.sources)[fixed : fixed + TRIALS]
    rows = np.concatenate([total[:1], total[fixed : fixed + TRIALS]])
    grid = _limits(rows, levels, rule)
    usual = [each for each in usual if grid[0] < each < grid[-1]]
    grid = np.unique(np.concatenate([grid, usual]))
    found = _Found(levels.speeds, rows, shared, rule, grid)
    if len(leaps := np.flatnonzero(_leaps(found))):  # looked at closely, so that a knot stands on either side
        closely = [np.linspace(grid[at], grid[at + 1], CLOSELY) for at in leaps]
        grid = np.unique(np.concatenate([grid, *closely]))
        found = _Found(levels.speeds, rows, shared, rule, grid)
    flags = _flags(heard, found)
    kept = _knots(found, flags, np.searchsorted(grid, usual))
    loud, topping = _words(heard, total[:1], rule)
    return SpeedTable(
        grid[kept], found.speed[kept], found.low[kept], found.high[kept], found.sd[kept], found.own[kept],
        flags[kept], levels.sources, levels.effects.mean(axis=1), heard.obstacle, heard.marks, loud, topping,
    )  # fmt: skip


class _Found:
    """Speeds of all rows at each limit of a grid, and what the trials say of them."""

    def __init__(self, speeds: Array, rows: Rows, shared: Rows, rule: LimitRule, grid: Array) -> None:
        chosen = _speeds_at(rows, speeds, grid, rule)
        of_shared = _speeds_at(shared, speeds, grid, rule)
        other = _speeds_at(rows[1:], speeds, grid, _other(rule))
        trials = chosen[1:]
        low_rank, high_rank = coverage_ranks(len(trials))
        ordered = np.partition(trials, (low_rank, high_rank), axis=0)
        self.grid, self.rows, self.rule, self.top = grid, rows, rule, float(speeds[-1])
        self.speed, self.low, self.high = chosen[0], ordered[low_rank], ordered[high_rank]
        self.sd = trials.std(axis=0) / self.speed
        own, both = (trials - of_shared).var(axis=0), of_shared.var(axis=0)
        self.own = np.divide(own, own + both, out=np.ones_like(own), where=own + both > 0.0)
        apart = np.maximum(trials, other) > np.minimum(trials, other) * (1.0 + APART)
        self.ambiguous = apart.mean(axis=0)
        beside = _speeds_at(rows[:1], speeds, grid, _other(rule))[0]
        self.differ = np.maximum(self.speed, beside) > np.minimum(self.speed, beside) * (1.0 + APART)

    @property
    def under(self) -> NDArray[np.bool_]:
        """Rows that keep to each limit at the highest speed, or up to it, (1 + M, m)."""
        tops = self.rows[:, -1] if self.rule is LimitRule.HIGHEST else self.rows.max(axis=1)
        return np.asarray(tops[:, None] <= self.grid)

    @property
    def too_loud(self) -> Array:
        """Share of trials too loud at each limit, (m,)."""
        least = self.rows.min(axis=1) if self.rule is LimitRule.HIGHEST else self.rows[:, 0]
        return np.asarray((least[1:, None] > self.grid).mean(axis=0))


def _other(rule: LimitRule) -> LimitRule:
    return LimitRule.NEVER_EXCEEDED if rule is LimitRule.HIGHEST else LimitRule.HIGHEST


def _speeds_at(rows: Rows, speeds: Array, limits: Array, rule: LimitRule) -> Array:
    """The speed of each row at each limit, (rows, m) [1/s]; as `limit_speed` has it, for many limits at once."""
    by_highest = rule is LimitRule.HIGHEST
    # places at or under a limit: up to the last one, or before the first one over it
    edge = (
        np.minimum.accumulate(rows[:, ::-1], axis=1)[:, ::-1]
        if by_highest
        else np.maximum.accumulate(rows, axis=1)
    )
    last = rows.shape[1] - 1
    count = np.stack([np.searchsorted(each, limits, side="right") for each in edge])
    below = np.clip(count - 1, 0, last - 1)
    low, high = (np.take_along_axis(rows, at, axis=1) for at in (below, below + 1))
    rise = high - low
    share = np.clip((limits - low) / np.where(rise == 0.0, 1.0, rise), 0.0, 1.0)
    speed = speeds[below] + share * (speeds[below + 1] - speeds[below])
    return np.where(count > last, speeds[-1], np.where(count == 0, speeds[0], speed))


def _limits(rows: Rows, levels: FanLevels, rule: LimitRule) -> Array:
    """The limits that are looked at: evenly, at both sides of each jump, and at both ends of what was heard."""
    central = rows[0]
    by_highest = rule is LimitRule.HIGHEST
    low = float(central.min() if by_highest else central[0])
    tops = rows[:, -1] if by_highest else rows.max(axis=1)
    top = float(tops[0])
    high = max(float(np.quantile(tops, 0.99)), top) + STEP
    if not high > low:
        raise NotPossible(
            "speeds at noise limits", found=f"levels from {low:.1f} to {high:.1f} dB", expected="a range"
        )
    even = np.arange(low, high, STEP)
    floor = (
        central[:-1][levels.bound[1:] != levels.bound[:-1]],
        central[1:][levels.bound[1:] != levels.bound[:-1]],
    )
    edges = np.concatenate([_jumps(central, levels.speeds, by_highest=by_highest), *floor, [top]])
    inside = edges[(edges > low + BESIDE) & (edges < high)]
    return np.unique(np.concatenate([even, inside, inside - BESIDE, inside + BESIDE, [high]]))


def _jumps(central: Array, speeds: Array, *, by_highest: bool) -> Array:
    """Levels at which the central speed jumps: of the dips that follow a peak, or of the peaks."""
    edge = np.minimum.accumulate(central[::-1])[::-1] if by_highest else np.maximum.accumulate(central)
    flat = np.flatnonzero(edge[1:] == edge[:-1])
    found = np.unique(edge[flat])
    return np.array([each for each in found if np.ptp(speeds[edge == each]) > JUMP * speeds[0]])


def _flags(heard: FanSound, found: _Found) -> Flags:
    """`At` of each limit."""
    levels, under = heard.levels, found.under
    share, is_full = under[1:].mean(axis=0), heard.is_full(levels.reach[1])
    ends = (found.low, found.high)
    folded = [fold for fold in louder_than_higher(levels) if fold.peak > 0.0]
    within = np.array(
        [[low <= each.peak <= high for low, high in zip(*ends, strict=True)] for each in folded]
    )
    two = found.differ | (found.ambiguous >= TWO_SPEEDS_FROM)
    if folded:
        two = two | within.any(axis=0)
    place = np.clip(np.searchsorted(levels.speeds, found.speed), 1, len(levels.speeds) - 1)
    floor = ~under[0] & (levels.bound[place - 1] | levels.bound[place])
    loud = (found.too_loud > MAY_BE_LOUD) & (not bool(levels.bound[0]))
    told: Iterable[tuple[At, NDArray[np.bool_]]] = (
        (At.FULL, under[0] & is_full),
        (At.LOW_FULL, (share > 0.975) & is_full),
        (At.HIGH_FULL, (share > 0.025) & is_full),
        (At.AT_LEAST, floor | (under[0] & (not is_full))),
        (At.HEARD_SHORT, under[0] & (not is_full)),
        (At.TWO_SPEEDS, two),
        (At.MAY_BE_LOUD, loud),
    )
    found_flags = np.zeros(len(found.grid), dtype=np.int64)
    for flag, where in told:
        found_flags |= np.where(where, int(flag), 0)
    return found_flags


def _half(found: _Found) -> Array:
    """Half of the interval of the logarithm of the speed; not below a hundredth."""
    return np.asarray(np.maximum(np.log(found.high / found.low) / 2.0, 0.01))


def _leaps(found: _Found) -> NDArray[np.bool_]:
    """Between which limits an end of the interval comes to another speed, (m − 1,)."""
    ends = np.diff(np.log(np.stack([found.low, found.high])), axis=1)
    return np.asarray((ends > LEAP * _half(found)[1:]).any(axis=0))


def _knots(found: _Found, flags: Flags, usual: NDArray[np.intp]) -> NDArray[np.intp]:
    """Which limits are kept: the ends, the usual ones, what a flag or a jump parts, then where the table errs most."""
    grid = found.grid
    curves = np.log(np.stack([found.speed, found.low, found.high]))
    half = _half(found)
    change = np.flatnonzero((flags[1:] & _EDGES) != (flags[:-1] & _EDGES))
    jumps = (np.diff(grid) <= 1.01 * BESIDE) & (np.diff(curves[0]) > FELT * half[1:])
    leaps = (np.diff(curves[1:], axis=1) > LEAP * half[1:]).any(
        axis=0
    )  # an end of the interval comes to the other speed
    steps = np.flatnonzero(jumps | leaps)
    kept = sorted(
        {
            0,
            len(grid) - 1,
            *usual.tolist(),
            *change.tolist(),
            *(change + 1).tolist(),
            *steps.tolist(),
            *(steps + 1).tolist(),
        }
    )
    weight = np.array([1.0, 0.8, 0.8])[:, None]
    while len(kept) < MOST_KNOTS:
        line = np.stack([np.interp(grid, grid[kept], each[kept]) for each in curves])
        error = (np.abs(line - curves) / half * weight).max(axis=0)
        worst = int(np.argmax(error))
        if error[worst] < NEAR_ENOUGH or worst in kept:
            break
        kept = sorted([*kept, worst])
    return np.array(kept)


_EDGES = int(At.TWO_SPEEDS | At.FULL | At.AT_LEAST | At.HEARD_SHORT | At.HIGH_FULL | At.LOW_FULL)


def _words(heard: FanSound, central: Rows, rule: LimitRule) -> tuple[str, str]:
    """Why a limit under all levels can't be met, and what is said at the highest speed heard."""
    levels: FanLevels = heard.levels
    shown = shown_level(Condition(noise=0.0), heard.geometry)
    full = heard.is_full(levels.reach[1])
    below, above = (
        limit_speed(central, levels.speeds, target, rule, bound=levels.bound, reaches_full=full)
        for target in (float(central.min()) - 1.0, float(central.max()) + 1.0)
    )
    loud = too_loud_words(below, shown, levels.reach[0])
    if not full:
        return loud, f"{HEARD_UP_TO} {speed_in_words(float(levels.speeds[-1]))}"
    most = "no more than " if above.top_is_bound else ""
    return loud, f"{TOPS_OUT} at {most}{shown(above.level_at_top)}"
