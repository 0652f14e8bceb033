"""Bands of speed that are louder than a faster speed: closed forms and brute force."""

from __future__ import annotations

import numpy as np
import pytest

from stillroom.core.sound.folds import LEAST_RISE, folds
from stillroom.errors import BadInput, OutOfRange

SPEEDS = np.linspace(8.0, 33.0, 301)


def bumped(*bumps: tuple[float, float, float]) -> np.ndarray:
    """53 dB a decade with resonances of (dB, at [1/s], width [1/s])."""
    level = 34.0 + 53.0 * np.log10(SPEEDS / 30.0)
    for height, where, width in bumps:
        level = level + height * np.exp(-(((SPEEDS - where) / width) ** 2))
    return np.asarray(level[None, :])


def test_a_steady_rise_has_no_fold() -> None:
    assert folds(SPEEDS, bumped()) == ()


def test_a_triangle_gives_its_own_ends() -> None:
    # Closed form: up to 30 dB at 10, down to 26 at 12, up again: louder than at 12 from where the rise passes 26.
    speeds = np.linspace(0.0, 20.0, 201)
    level = np.interp(speeds, [0.0, 10.0, 12.0, 20.0], [10.0, 30.0, 26.0, 40.0])[None, :]
    (found,) = folds(speeds, level)
    assert found.low == pytest.approx(8.0, abs=1e-9)
    assert found.high == pytest.approx(12.0)
    assert found.peak == pytest.approx(10.0)
    assert found.rise == pytest.approx(4.0)


def test_each_band_is_louder_than_its_upper_end_and_nothing_else_is() -> None:
    # Brute force: a speed belongs to a band exactly where some faster speed is quieter.
    rng = np.random.default_rng(7)
    for _ in range(40):
        bumps = [
            (float(rng.uniform(0, 9)), float(rng.uniform(10, 31)), float(rng.uniform(0.6, 2.0)))
            for _ in range(3)
        ]
        level = bumped(*bumps)
        found = folds(SPEEDS, level, least=0.0)
        inside = np.zeros(len(SPEEDS), bool)
        for each in found:
            inside |= np.abs(SPEEDS - (each.low + each.high) / 2) < (each.high - each.low) / 2 - 1e-9
        truly = np.array([level[0, k] > level[0, k:].min() for k in range(len(SPEEDS))])
        assert (inside == truly).mean() > 0.99  # but for places that touch an end


def test_a_small_or_unsure_rise_is_not_told() -> None:
    small = bumped((2.2, 20.0, 1.5))
    rises = [each.rise for each in folds(SPEEDS, small, least=0.0)]
    assert max(rises) < LEAST_RISE
    assert folds(SPEEDS, small) == ()
    sure = bumped((8.0, 20.0, 1.5))
    (fold,) = folds(SPEEDS, sure)
    rng = np.random.default_rng(1)
    peak = np.argmin(np.abs(SPEEDS - fold.peak))
    shaken = np.repeat(sure, 400, axis=0)
    shaken[:, peak] += rng.normal(
        0.0, fold.rise, 400
    )  # the peak itself is unsure: beyond the faster speed in 84 %
    assert folds(SPEEDS, np.concatenate([sure, shaken])) == ()
    assert folds(SPEEDS, np.concatenate([sure, np.repeat(sure, 400, axis=0)])) == (fold,)


def test_bounds_tell_no_fold_and_wrong_shapes_are_refused() -> None:
    sure = bumped((8.0, 20.0, 1.5))
    assert folds(SPEEDS, sure, bound=np.ones(len(SPEEDS), bool)) == ()
    with pytest.raises(BadInput, match="three or more"):
        folds(SPEEDS[:2], sure[:, :2])
    with pytest.raises(OutOfRange):
        folds(SPEEDS, np.full_like(sure, np.nan))
