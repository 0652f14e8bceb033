"""The monotone cubic against SciPy's PCHIP, and its promise not to overshoot."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import interpolate

from stillroom.core.monotone_cubic import monotone_cubic


@pytest.mark.parametrize("count", [2, 3, 4, 9])
@pytest.mark.parametrize("columns", [(), (5,)])
def test_it_is_the_cubic_of_a_reference_library(count: int, columns: tuple[int, ...]) -> None:
    """scipy.interpolate.PchipInterpolator, SciPy 1.15 or later, the same method."""
    random = np.random.default_rng(count)
    for _ in range(50):
        places = np.cumsum(random.uniform(0.1, 2.0, count))
        values = random.normal(size=(count, *columns)).round(1)  # some are equal
        at = np.concatenate([places, random.uniform(places[0], places[-1], 30)])
        expected = interpolate.PchipInterpolator(places, values, axis=0)(at)
        np.testing.assert_allclose(monotone_cubic(places, values, at), expected, atol=1e-12)
        one = monotone_cubic(places, values, float(at[-1]))
        np.testing.assert_allclose(one, expected[-1], atol=1e-12)


def test_between_rising_values_it_rises() -> None:
    places, values = np.array([0.0, 1.0, 1.5, 4.0]), np.array([0.0, 0.1, 5.0, 5.1])
    found = monotone_cubic(places, values, np.linspace(0.0, 4.0, 999))
    assert np.all(np.diff(found) > 0.0)
