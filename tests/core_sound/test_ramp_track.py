"""Speed over a ramp against the speed that was synthesised."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tonal_sounds import Array, amplitude, fan_like, noise, spectrogram_of

from stillroom.core.sound.ramp_track import RampTrack, track_ramp
from stillroom.core.sound.spectrogram import Spectrogram
from stillroom.core.sound.track_smoothing import smoothed
from stillroom.errors import NotPossible, OutOfRange

RATE = 8_000
SLOW, QUICK = 8.0, 33.0


def ramp(
    seed: int,
    seconds: float,
    ends: tuple[float, float],
    orders: dict[int, float],
    fixed: dict[float, float] | None = None,
    resonance: float | None = None,
    hold: float = 0.0,
) -> tuple[Spectrogram, Array]:
    """A ramp's spectrogram and the speed at its frames: noise and tones grow with speed^2.6, fixed tones don't."""

    def shape(f: Array) -> Array:
        peak = 0.0 if resonance is None else 100.0 / (1.0 + (12.0 * (f / resonance - resonance / f)) ** 2)
        return fan_like(f) * np.sqrt(1.0 + peak)

    samples = noise(np.random.default_rng(seed), seconds, RATE, shape)
    time = np.arange(len(samples)) / RATE
    speed = ends[0] + (ends[1] - ends[0]) * np.clip((time - hold) / (seconds - 2.0 * hold), 0.0, 1.0)
    angle = 2.0 * np.pi * np.cumsum(speed) / RATE
    for order, ratio in orders.items():
        samples = samples + amplitude(order * speed, ratio, RATE, fan_like) * np.sin(order * angle + order)
    samples = samples * (speed / max(ends)) ** 2.6
    for frequency, ratio in (fixed or {}).items():
        samples = samples + amplitude(frequency, ratio, RATE) * np.sin(2.0 * np.pi * frequency * time)
    spectrogram = spectrogram_of(samples, RATE)
    return spectrogram, np.interp(spectrogram.times, time, speed)


def errors(found: RampTrack, speed: Array) -> tuple[float, float]:
    """Root mean square of the relative error, and of the error over its uncertainty."""
    return (
        float(np.sqrt(np.mean((found.speed / speed - 1.0) ** 2))),
        float(np.sqrt(np.mean(((found.speed - speed) / found.u) ** 2))),
    )


CASES = {
    "up": {"seconds": 40.0, "ends": (SLOW, QUICK), "orders": {9: 6, 18: 3, 27: 0}},
    "down": {"seconds": 40.0, "ends": (QUICK, SLOW), "orders": {7: 6, 14: 3, 21: 0}},
    "no fundamental": {"seconds": 40.0, "ends": (SLOW, QUICK), "orders": {18: 4, 27: 2, 36: 0}},
    "fixed tones": {
        "seconds": 40.0,
        "ends": (SLOW, QUICK),
        "orders": {9: 4, 18: 2, 27: 0},
        "fixed": {100.0: 2.0, 150.0: -4.0, 237.0: 4.0},
    },
    "a resonance that drowns a harmonic": {
        "seconds": 40.0,
        "ends": (SLOW, QUICK),
        "orders": {9: 2, 18: 0, 27: 0},
        "resonance": 180.0,
    },
    "with holds": {"seconds": 50.0, "ends": (SLOW, QUICK), "orders": {9: 6, 18: 3, 27: 0}, "hold": 8.0},
}


@pytest.mark.parametrize("case", CASES)
def test_the_speed_is_followed(case: str) -> None:
    arguments = CASES[case]
    blades = min(arguments["orders"]) // (2 if case == "no fundamental" else 1)
    spectrogram, speed = ramp(3, **arguments)
    rising = arguments["ends"][1] > arguments["ends"][0]
    found = track_ramp(spectrogram, blades=blades, between=(6.0, 50.0), rising=rising)
    relative, z = errors(found, speed)
    assert relative < 2e-3
    assert z < 2.0
    assert found.trusted.mean() > 0.9
    assert found.times == pytest.approx(spectrogram.times)


def test_the_direction_need_not_be_told() -> None:
    spectrogram, speed = ramp(4, **CASES["down"])
    found = track_ramp(spectrogram, blades=7, between=(6.0, 50.0), rising=None)
    assert errors(found, speed)[0] < 2e-3


def test_blades_that_nobody_told_come_from_shaft_orders() -> None:
    orders = {5: 4, 10: 2, 15: 0, 1: 2, 2: 0, 4: 4, 12: 3}
    spectrogram, speed = ramp(5, 40.0, (SLOW, QUICK), orders)
    found = track_ramp(spectrogram, blades=None, between=(6.0, 50.0), rising=True)
    assert errors(found, speed)[0] < 2e-3
    spectrogram, _ = ramp(5, **CASES["up"])
    with pytest.raises(NotPossible, match="number of blades"):
        track_ramp(spectrogram, blades=None, between=(6.0, 50.0), rising=True)


@pytest.mark.parametrize("fixed", [{}, {100.0: 5.0, 200.0: 0.0, 300.0: 0.0}], ids=["noise", "fixed tones"])
def test_without_blade_pass_there_is_no_track(fixed: dict[float, float]) -> None:
    spectrogram, _ = ramp(6, 40.0, (SLOW, QUICK), {}, fixed)
    with pytest.raises(NotPossible, match="comb"):
        track_ramp(spectrogram, blades=9, between=(6.0, 50.0), rising=True)


def test_a_gap_is_bridged_with_a_wider_uncertainty() -> None:
    spectrogram, speed = ramp(7, **CASES["up"])
    gap = slice(100, 130)
    power = spectrogram.power.copy()
    power[gap] = np.random.default_rng(1).exponential(1e-6, power[gap].shape).astype(np.float32)
    found = track_ramp(replace(spectrogram, power=power), blades=9, between=(6.0, 50.0), rising=True)
    assert found.trusted[105:125].mean() < 0.15  # noise looks like a comb now and then
    assert np.abs(found.speed - speed)[gap].max() < 0.05 * speed[115]
    assert (np.abs(found.speed - speed) / found.u)[gap].max() < 3.0
    assert found.u[115] > 2.0 * np.median(found.u)


def test_the_smoother_is_as_uncertain_as_it_says() -> None:
    """Tracks drawn from its own model: a rate that walks by 2 per root second, readings of 0.5."""
    rng, times, z = np.random.default_rng(2), np.linspace(0.0, 30.0, 180), []
    for _ in range(12):
        rate = 3.0 + np.cumsum(rng.normal(0.0, 2.0 * np.sqrt(times[1]), 180))
        track = 200.0 + np.cumsum(rate) * times[1]
        found, u, kept = smoothed(
            times, track + rng.normal(0.0, 0.5, 180), np.full(180, 0.5), np.ones(180, dtype=bool)
        )
        assert kept.mean() > 0.95
        assert u.max() < 0.6
        z.append((found - track) / u)
    assert 0.8 < np.sqrt(np.mean(np.square(z))) < 1.25


def test_a_straight_track_is_smoothed_far_below_its_readings() -> None:
    times = np.linspace(0.0, 30.0, 180)
    line = 100.0 + 3.0 * times
    readings = line + np.random.default_rng(2).normal(0.0, 0.5, 180)
    track, u, _ = smoothed(times, readings, np.full(180, 0.5), np.ones(180, dtype=bool))
    assert np.sqrt(np.mean((track - line) ** 2)) < 0.15
    assert np.abs((track - line) / u).max() < 3.0
    assert u.max() < 0.25


def test_outliers_lose_their_trust() -> None:
    times = np.linspace(0.0, 30.0, 180)
    readings = 100.0 + 3.0 * times + np.random.default_rng(3).normal(0.0, 0.2, 180)
    readings[40:43] += 30.0
    _, _, kept = smoothed(times, readings, np.full(180, 0.2), np.ones(180, dtype=bool))
    assert not kept[40:43].any()


def test_what_cannot_be_is_refused() -> None:
    spectrogram, _ = ramp(8, 5.0, (SLOW, QUICK), {9: 6})
    with pytest.raises(OutOfRange, match="limits"):
        track_ramp(spectrogram, blades=9, between=(50.0, 6.0), rising=True)
    with pytest.raises(OutOfRange, match="0 Hz"):
        track_ramp(
            replace(spectrogram, frequencies=spectrogram.frequencies + 3.0),
            blades=9,
            between=(6.0, 50.0),
            rising=True,
        )
    short = replace(spectrogram, times=spectrogram.times[:5], power=spectrogram.power[:5])
    with pytest.raises(NotPossible, match="5 frames"):
        track_ramp(short, blades=9, between=(6.0, 50.0), rising=True)
