"""Readings that are no bath's: probes degrees apart, or moving against each other."""

from __future__ import annotations

import numpy as np
import pytest

from stillroom.core.heat.probes import FARTHEST, MOVED, offsets_from_bath
from stillroom.errors import NotPossible

NOISE = np.random.default_rng(1).normal(0.0, 0.02, (2, 180))
BATH = 298.15 + NOISE
AT = np.linspace(0.0, 1.0, 180)


def test_a_bath_that_drifts_as_a_whole_is_one() -> None:
    found = offsets_from_bath({"hot": BATH[0] + 0.4 + 3.0 * AT, "air": BATH[1] + 3.0 * AT})
    assert found.probes["hot"].value - found.probes["air"].value == pytest.approx(0.4, abs=0.01)


def test_probes_that_drift_against_each_other() -> None:
    moving = {"hot": BATH[0] + 5.4 * AT, "air": BATH[1]}
    with pytest.raises(NotPossible, match="a bath at rest"):
        offsets_from_bath(moving)
    just = {"hot": BATH[0] + 2.0 * MOVED * AT, "air": BATH[1]}
    assert offsets_from_bath(just).probes


def test_probes_too_far_apart_for_one_bath() -> None:
    with pytest.raises(NotPossible, match="probes in one bath"):
        offsets_from_bath({"hot": BATH[0] + 2.1 * FARTHEST, "air": BATH[1]})
    assert offsets_from_bath({"hot": BATH[0] + 1.9 * FARTHEST, "air": BATH[1]}).probes
