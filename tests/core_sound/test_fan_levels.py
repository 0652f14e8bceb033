"""A fan's level curve from mountings: means, spreads that aren't counted twice, and what ends where."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from level_truth import HIGH, INVERTED, LOW, TrueFan, dwells, ramp

from stillroom.core.characteristic import Part
from stillroom.core.combine import MountingResult, combine_mountings
from stillroom.core.draws import normal_draws
from stillroom.core.sound.fan_levels import FanLevels, MountingCurve, combine_curves
from stillroom.core.sound.level_curve import LevelCurve, fit_levels
from stillroom.core.sound.limit import limit_speed
from stillroom.core.spread import PooledSpread, Spreads
from stillroom.errors import BadInput, NotPossible, UnknownThing

M = 1000
PLAIN = TrueFan(30.0, 53.0, 7, (), 60.0, 0.0)
CALIBRATOR = "calibrator/c"


def known(mounting: float, sample: float) -> Spreads:
    return Spreads(PooledSpread.agreed(mounting, 1e6), PooledSpread.agreed(sample, 1e6))


def curve(
    name: str, shift: float = 0.0, *, low: float = LOW, high: float = HIGH, sources: bool = True
) -> LevelCurve:
    seed = sum(map(ord, name))
    points = dwells(PLAIN, np.linspace(low, high, 9), np.random.default_rng(seed), sd=0.05)
    moved = [replace(each, level=each.level + shift) for each in points]
    told = {CALIBRATOR: 0.2} if sources else {f"day/{name}": 0.1}
    return fit_levels(moved, identity=name, sources=told, trials=M)


def fan(*mountings: tuple[str, str, LevelCurve], spreads: Spreads = known(0.0, 0.0)) -> FanLevels:  # noqa: B008
    return combine_curves([MountingCurve(*each) for each in mountings], spreads)


def test_mean_over_samples_of_means_over_mountings() -> None:
    found = fan(("s1", "a", curve("a", -1.0)), ("s1", "b", curve("b", 1.0)), ("s2", "c", curve("c", 3.0)))
    assert found.central == pytest.approx(PLAIN.level(found.speeds * 60) + 1.5, abs=0.25)
    assert (found.samples, found.mountings) == (2, 3)
    assert found.mountings_per_sample == (2, 1)
    assert {each.mounting for each in found.points} == {"a", "b", "c"}
    assert found.effects[0] == pytest.approx(0.2, abs=2e-3)


def test_spreads_by_hand() -> None:
    spreads = known(0.4, 0.7)
    found = fan(("s1", "a", curve("a")), ("s1", "b", curve("b")), ("s2", "c", curve("c")), spreads=spreads)
    at = np.array([PLAIN_DWELL])
    rows = found.rows(speeds=at)[2:, 0]
    variance = 0.7**2 / 2 + 0.4**2 * (1 / 16 + 1 / 16 + 1 / 4) + 0.2**2
    assert rows.var() == pytest.approx(variance, rel=0.12)
    assert found.sample_variance == pytest.approx(0.49)
    assert found.mounting_variance == pytest.approx(np.maximum(0.16, found.mounting_variance))
    index = np.argmin(np.abs(found.speeds - PLAIN_DWELL))
    loading = dict(zip(found.private, found.private_effects[:, index], strict=True))
    assert loading["sample/s1/level"] == pytest.approx(0.35)
    assert loading["mounting/c/level"] == pytest.approx(0.2, abs=0.01)
    assert loading["mounting/a/level"] == pytest.approx(0.1, abs=0.01)


PLAIN_DWELL = float(np.linspace(LOW, HIGH, 9)[4]) / 60.0


def test_at_a_speed_it_is_what_combining_values_gives() -> None:
    """The same numbers by the other route: values at one speed through `combine_mountings` with scale 1."""
    spreads = known(0.4, 0.7)
    curves = [("s1", "a", curve("a", 0.3)), ("s1", "b", curve("b")), ("s2", "c", curve("c", -0.5))]
    found = fan(*curves, spreads=spreads)
    at = np.array([PLAIN_DWELL])
    values = []
    for sample, mounting, each in curves:
        total, shared = each.rows(speeds=at)[2:, 0], each.rows(Part.SHARED, speeds=at)[2:, 0]
        central = float(each.rows(Part.CENTRAL, speeds=at)[0, 0])
        values.append(MountingResult(sample, mounting, central, shared, total - shared, {CALIBRATOR: 0.2}))
    combined = combine_mountings(values, spreads, scale=1.0)
    rows = found.rows(speeds=at)[:, 0]
    assert rows[0] == pytest.approx(combined.value, abs=0.02)
    assert rows[2:].std() == pytest.approx(combined.trials.std(), rel=0.1)
    assert found.sample_variance == pytest.approx(combined.parts.sample)


def test_noise_of_a_mounting_is_not_counted_twice() -> None:
    noisy = curve("a")
    noisy = replace(noisy, noise=(0.5 * normal_draws("n", M)[:, None] + 0 * noisy.noise).astype(np.float32))
    less, more = (
        fan(("s", "a", noisy), spreads=known(0.3, 0.0)),
        fan(("s", "a", noisy), spreads=known(0.8, 0.0)),
    )
    assert less.noise[:, 10].std() == pytest.approx(0.5, rel=0.05)
    assert more.noise[:, 10].std() == pytest.approx(0.8, rel=0.05)


def test_mountings_move_a_curve_as_a_whole() -> None:
    found = fan(("s", "a", curve("a")), spreads=known(0.4, 0.7))
    ends = found.noise[:, [0, -1]]
    assert np.corrcoef(ends.T)[0, 1] > 0.9


def test_a_mounting_with_fewer_speeds_goes_on_parallel() -> None:
    wide, narrow = curve("wide"), curve("narrow", 2.0, low=900.0, high=1300.0)
    found = fan(("s1", "a", wide), ("s2", "b", narrow))
    assert found.reach == wide.reach
    assert found.central == pytest.approx(PLAIN.level(found.speeds * 60) + 1.0, abs=0.25)
    assert np.abs(np.diff(found.central)).max() < 0.5  # no step where the narrow one ends


def test_a_mounting_with_no_speed_in_common_is_left_out_and_told() -> None:
    found = fan(("s1", "a", curve("a", high=1500.0)), ("s2", "b", curve("b", 2.0, low=1700.0)))
    assert found.left_out == ("b",)
    assert (found.samples, found.mountings) == (1, 1)


def test_bounds_and_floors_stay() -> None:
    one, other = curve("a"), curve("b")
    flags = other.speeds < 900 / 60
    found = fan(("s", "a", replace(one, floor=20.0)), ("s", "b", replace(other, bound=flags, floor=21.0)))
    assert found.bound.tolist() == flags.tolist()
    assert found.floor == 21.0
    assert fan(("s", "a", one)).floor is None


def test_sources_of_all_mountings_and_private_ones() -> None:
    found = fan(("s", "a", curve("a")), ("s", "b", curve("b", sources=False)), spreads=known(0.4, 0.7))
    assert found.sources == (CALIBRATOR, "day/b")
    assert found.effects[0] == pytest.approx(0.1, abs=2e-3)
    wanted = ("other", *found.sources, "sample/s/level")
    rows = found.rows(Part.TOTAL, wanted, np.array([PLAIN_DWELL]))
    assert rows.shape == (1 + 4 + M, 1)
    assert rows[1:5, 0] - rows[0, 0] == pytest.approx([0.0, 0.1, 0.05, 0.7], abs=2e-3)
    with pytest.raises(UnknownThing):
        found.rows(Part.TOTAL, ("day/b",))
    shared = found.rows(Part.SHARED, speeds=np.array([PLAIN_DWELL]))[3:, 0]
    assert shared.std() == pytest.approx(np.hypot(0.1, 0.05), rel=0.1)
    assert found.rows(Part.CENTRAL).shape == (1, len(found.speeds))
    with pytest.raises(NotPossible):
        found.rows(speeds=np.array([100.0]))


def test_an_inverted_fan_is_limited_on_its_own_curve() -> None:
    """Two samples 0.6 dB apart: one alone meets the limit past its resonance, the other before it."""
    curves = []
    for name, shift in (("a", -0.45), ("b", 0.45)):
        draw = np.random.default_rng(ord(name))
        true = replace(INVERTED, at_1500=INVERTED.at_1500 + shift)
        points = [
            *dwells(true, np.linspace(LOW, HIGH, 12), draw),
            *ramp(true, draw),
            *ramp(true, draw, name="d"),
        ]
        curves.append(fit_levels(points, identity=name, sources={}, trials=M))
    level = 25.6
    alone = [limit_speed(each.rows(), each.speeds, level).speeds[0] * 60 for each in curves]
    assert alone[0] > 1300
    assert alone[1] < 1060
    found = fan(("s1", "a", curves[0]), ("s2", "b", curves[1]))
    limited = limit_speed(found.rows(), found.speeds, level, points=found.points)
    assert limited.speeds[0] * 60 == pytest.approx(INVERTED.limit_rpm(level), rel=0.01)
    assert limited.avoid[0][0] < np.mean(alone) / 60 < limited.avoid[0][1]  # their mean lies in the band


def test_order_does_not_matter_and_bits_stay() -> None:
    cases = [("s1", "a", curve("a")), ("s2", "b", curve("b"))]
    one, other = fan(*cases, spreads=known(0.4, 0.7)), fan(*reversed(cases), spreads=known(0.4, 0.7))
    assert np.array_equal(one.noise, other.noise)
    assert np.array_equal(one.central, other.central)
    assert one.noise.dtype == np.float32


def test_what_cannot_be_combined() -> None:
    with pytest.raises(BadInput, match="none"):
        combine_curves([], known(0.4, 0.7))
    with pytest.raises(BadInput, match="twice"):
        fan(("s1", "a", curve("a")), ("s2", "a", curve("b")))
    short = curve("b")
    with pytest.raises(BadInput, match="trials"):
        fan(("s1", "a", curve("a")), ("s2", "b", replace(short, noise=short.noise[:10])))
