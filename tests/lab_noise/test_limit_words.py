"""What is said beside a noise-limited speed: two speeds only where there are two, and where a band to avoid stands."""

from __future__ import annotations

import numpy as np

from stillroom.core.sound.folds import Fold
from stillroom.core.sound.level_points import LevelPoint
from stillroom.core.sound.limit import limit_speed
from stillroom.lab.sound.level_words import limit_marks

SPEEDS = np.array([600.0, 900.0, 1200.0, 1500.0]) / 60.0
RISING = np.array([18.0, 22.0, 27.0, 32.0])
FOLDED = np.array([18.0, 29.0, 27.0, 32.0])
"""Louder at 900 rpm than at 1,200 rpm."""

FOLD = Fold(low=780.0 / 60.0, high=1200.0 / 60.0, peak=900.0 / 60.0, rise=2.0)


def marks(rows: np.ndarray, limit: float, louder: tuple[Fold, ...] = ()) -> list[str]:
    found = limit_speed(rows, SPEEDS, limit)
    return list(limit_marks(found, lambda level: f"{level:.1f} dBA", 1, "28 dBA", louder))


def with_share(folded: int, central: np.ndarray) -> np.ndarray:
    """A central curve and a hundred trials, `folded` of which have two speeds."""
    return np.stack([central, *[FOLDED] * folded, *[RISING] * (100 - folded)])


def test_a_rising_curve_has_one_speed_though_a_tenth_of_the_trials_fold() -> None:
    assert marks(with_share(10, RISING), 28.0) == []
    (said,) = marks(with_share(30, RISING), 28.0)
    assert said == "two speeds possible: the rules differ in 30 % of the trials"


def test_an_interval_through_a_band_that_is_louder_says_two_speeds() -> None:
    rows = np.stack([FOLDED, *[FOLDED - 2.0] * 50, *[FOLDED + 2.5] * 50])
    (said,) = (each for each in marks(rows, 26.0, (FOLD,)) if each.startswith("two"))
    assert said == "two speeds possible: avoid 780–1,200 rpm, louder there than at a higher speed"
    apart = Fold(low=1550.0 / 60.0, high=1700.0 / 60.0, peak=1600.0 / 60.0, rise=2.0)
    assert not any("louder there" in each for each in marks(rows, 26.0, (apart,)))


def test_a_band_over_the_limit_says_which_limit() -> None:
    said = marks(with_share(100, FOLDED), 28.0)
    assert said[0].startswith("above 28 dBA: avoid 8")
    assert said[1].startswith("first over the limit from ")


def test_levels_far_apart_say_where_to_measure() -> None:
    points = [
        LevelPoint(each / 60.0, 0.0, level, 0.1, False, False, "a", "a")
        for each, level in ((600, 18.0), (1500, 32.0))
    ]
    found = limit_speed(np.stack([RISING, RISING]), SPEEDS, 25.0, points=points)
    (said,) = limit_marks(found, lambda level: f"{level:.1f} dBA", 1)
    assert said == "one more dwell between 600 and 1,500 rpm would tell more: these lie 14.0 dB apart"
