"""Noise-limited speed: the highest speed at which a fan keeps to a limit, on every row of a stack of curves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound.level_points import LevelPoint

Flags = NDArray[np.bool_]


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
    speeds : by the rule asked for, each row its own, within the speeds measured, (rows,) [1/s].
    strict : by `NEVER_EXCEEDED`, (rows,) [1/s]. highest : by `HIGHEST`, (rows,) [1/s].
    reached : of the central row.
    tops_out : rows whose level is under the limit at the highest speed, (rows,).
    too_loud : rows whose level is above the limit at every speed (of the rule), (rows,).
    avoid : ranges of speed below the highest such speed where the central level is above the limit [1/s].
    level_at_top, level_at_bottom : central level at the ends of the speeds measured [dB].
    at_least : the limit lies where levels are bounds only: the true speed is this or higher.
    bracket : how far apart the levels measured next below and next above the speed are [dB]; None at an end.
    ambiguous : share of trials in which the two rules differ by more than 3 % [1].
    unique : whether that share is small.
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
    bracket: float | None
    ambiguous: float
    unique: bool


def limit_speed(
    levels_rows: Array,
    speeds: Array,
    limit: float,
    rule: LimitRule = LimitRule.HIGHEST,
    *,
    bound: Flags | None = None,
    points: Sequence[LevelPoint] = (),
    sources: int = 0,
) -> LimitSpeed:
    """The noise-limited speed of every row of (1 + k + M, g), `sources` = k."""
    raise NotImplementedError
