"""Offsets of probes from one bath, their uncertainties, and limits of error."""

from __future__ import annotations

import math

import numpy as np
import pytest

from stillroom.core.heat.probes import offsets_from_bath, probe_limit
from stillroom.errors import NotPossible, OutOfRange, UnknownThing

TRUE = {"hot": 0.31, "air": -0.12, "air_2": -0.19}


def bath(seed: int = 1, n: int = 300, r: float = 0.0) -> dict[str, np.ndarray]:
    """A bath that drifts by 0.5 K, probes with their offsets and noise of 0.03 K."""
    rng = np.random.default_rng(seed)
    drift = 303.0 + np.linspace(0.0, 0.5, n)
    found = {}
    for name, offset in TRUE.items():
        noise = 0.03 * rng.standard_normal(n)
        for i in range(1, n):
            noise[i] = r * noise[i - 1] + math.sqrt(1.0 - r * r) * noise[i]
        found[name] = drift + offset + noise
    return found


def test_offsets_of_a_bath_that_drifts() -> None:
    told = offsets_from_bath(bath())
    assert {name: each.value for name, each in told.probes.items()} == pytest.approx(TRUE, abs=0.006)
    assert all(each.u < 0.003 for each in told.probes.values())
    assert told.bath == pytest.approx(303.25, abs=0.01)
    assert told.corrected("hot", np.array([310.31])) == pytest.approx([310.0], abs=0.01)


def test_the_offsets_are_within_what_they_claim() -> None:
    """2 u holds in 88 % or more, with neighbours correlated by 0.8 too."""
    off = [
        (each.value - TRUE[name]) / each.u
        for seed in range(60)
        for name, each in offsets_from_bath(bath(seed, r=0.8)).probes.items()
    ]
    assert float(np.mean(np.abs(off) <= 2.0)) >= 0.88


def test_the_uncertainty_of_a_difference_by_hand() -> None:
    told = offsets_from_bath(bath(), u_bath=0.02)
    one, two, three = (told.probes[name].u for name in TRUE)
    plain = math.sqrt(0.02**2 + one**2 + (two**2 + 0.02**2 + three**2 + 0.02**2) / 4.0)
    assert told.u_difference(["hot"], ["air", "air_2"]) == pytest.approx(plain)
    assert told.u_difference(["hot", "air"], ["hot", "air"]) == 0.0
    with pytest.raises(UnknownThing, match="probe 'liquid'"):
        told.u_difference(["liquid"], ["air"])


def test_gaps_of_one_probe_are_left_out_for_all() -> None:
    readings = bath()
    readings["hot"][:150] = np.nan
    assert offsets_from_bath(readings).probes["hot"].value == pytest.approx(TRUE["hot"], abs=0.01)
    readings["hot"][:] = np.nan
    with pytest.raises(NotPossible):
        offsets_from_bath(readings)
    with pytest.raises(NotPossible, match="offsets of probes"):
        offsets_from_bath({"hot": readings["air"]})


def test_limits_of_error() -> None:
    """Type T class 1: 0.5 K; type K class 1: 1.5 K, special class of 370 °C 0.4 % (as read in makers' tables)."""
    assert probe_limit("T", "1", 313.15) == 0.5
    assert probe_limit("K", "1", 313.15) == 1.5
    assert probe_limit("T", "1", 273.15 + 200.0) == pytest.approx(0.8)
    assert probe_limit("Pt", "A", 313.15) == pytest.approx(0.15 + 0.002 * 40.0)
    with pytest.raises(UnknownThing, match="kind of probe"):
        probe_limit("X", "1", 300.0)
    with pytest.raises(OutOfRange, match="type T, class 1"):
        probe_limit("T", "1", 700.0)
