"""Speed from sound: steady, adversarial and hopeless cases, against the speed that was synthesised."""

from __future__ import annotations

import numpy as np
import pytest
from tonal_sounds import Array, entries, spectrum_of, turning

from stillroom.core.sound.shaft_speed import SpeedFromSound, speed_from_sound
from stillroom.errors import NotPossible, OutOfRange

RATE = 12_000
BETWEEN = (7.0, 55.0)
NINE = 1483.0 / 60.0
HUM = {50.01 * k: 18.0 - 2.0 * k for k in (1, 2, 3, 4, 6)}


def blade(blades: int, ratios: dict[int, float]) -> dict[int, float]:
    return {blades * harmonic: ratio for harmonic, ratio in ratios.items()}


def heard(
    samples: Array,
    blades: int | None,
    near: float | None = None,
    between: tuple[float, float] = BETWEEN,
) -> SpeedFromSound:
    spectrum, resolution = spectrum_of(samples, RATE)
    return speed_from_sound(spectrum, resolution, 1.5, blades=blades, between=between, near=near)


def rng_of(seed: int) -> np.random.Generator:
    return np.random.default_rng(seed)


def test_nine_blades_at_1483_rpm() -> None:
    """The reference case: harmonics 1, 2, 3, 4, 6 at 20, 14, 10, 6, 12 dB."""
    (entry,) = entries("rpm_from_harmonics")
    sound = turning(rng_of(1), NINE, blade(9, {1: 20, 2: 14, 3: 10, 4: 6, 6: 12}), 10.0)
    found = heard(sound, 9)
    assert 60.0 * found.speed == pytest.approx(entry["expected"], rel=3e-5)
    assert found.u < 1e-4 * found.speed
    assert (found.blades, found.told_blades_fit, found.harmonics) == (9, True, 5)


ADVERSARIAL = {
    "no fundamental": (NINE, 9, blade(9, {2: 14, 3: 10, 4: 6}), {}),
    "weak": (1183 / 60, 7, blade(7, {1: -3, 2: -4, 3: -5, 4: -6}), {}),
    "two harmonics": (780 / 60, 9, blade(9, {1: 3, 2: 0}), {}),
    "hum": (1320 / 60, 7, blade(7, {1: 6, 2: 4, 3: 2}), HUM),
    "resonances near by": (1320 / 60, 7, blade(7, {1: 6, 2: 4, 3: 2}), {162.3: 15.0, 331.0: 18.0}),
    "hum 3 Hz beside": (103.2 / 9, 9, blade(9, {1: 6, 2: 6, 3: 4, 4: 2}), HUM),
    "shaft orders": (NINE, 9, {**blade(9, {1: 12, 2: 8, 3: 5}), 1: 3, 2: 0, 4: 2, 12: 3}, {}),
}


@pytest.mark.parametrize("case", ADVERSARIAL)
def test_adversarial_and_steady(case: str) -> None:
    """Within 0.05 %, and within 4 of its own standard uncertainties."""
    speed, blades, orders, fixed = ADVERSARIAL[case]
    for seed in (2, 3):
        found = heard(turning(rng_of(seed), speed, orders, fixed=fixed), blades)
        assert found.speed == pytest.approx(speed, rel=5e-4)
        assert abs(found.speed - speed) < 4.0 * found.u
        assert found.u < 5e-4 * speed
        assert found.told_blades_fit


@pytest.mark.slow
def test_random_fans_are_heard_right_or_not_at_all() -> None:
    """40 random fans with weak combs, hum, resonances and shaft orders, told blades, no reading near: of the speeds
    that are given 95 % at least are within 0.05 %, and 60 % of the fans at least get one. (What is left is a comb
    whose odd harmonics are all drowned, heard at twice its speed: only a reading near can tell.)"""
    rng, right, given = rng_of(4), 0, 0
    for _ in range(40):
        speed, blades = float(np.exp(rng.uniform(np.log(7.5), np.log(50.0)))), int(rng.choice([5, 7, 9, 11]))
        orders = blade(
            blades, {h: float(rng.uniform(-4, 14) - 2 * h) for h in range(1, int(rng.integers(3, 7)))}
        )
        orders |= {int(o): float(rng.uniform(-8, 3)) for o in rng.integers(1, 30, 2) if o % blades}
        fixed = {float(f): float(rng.uniform(-2, 12)) for f in rng.uniform(90, 900, int(rng.integers(0, 3)))}
        sound = turning(rng, speed, orders, fixed=fixed | (HUM if rng.random() < 0.5 else {}))
        try:
            found = heard(sound, blades)
        except NotPossible:
            continue
        given += 1
        right += abs(found.speed / speed - 1.0) < 5e-4
    assert given >= 24
    assert right >= 0.95 * given


def test_a_drifting_speed_widens_the_uncertainty() -> None:
    count = 20 * RATE
    for wander in (0.01 * np.linspace(-0.5, 0.5, count), 0.003 * np.sin(np.linspace(0.0, 40.0, count))):
        speed = NINE * (1.0 + wander)
        found = heard(turning(rng_of(5), speed, blade(9, {1: 16, 2: 14, 3: 10})), 9)
        assert found.drift == pytest.approx(float(np.std(wander)), rel=0.2)
        assert abs(found.speed - speed.mean()) < 2.0 * found.u
        assert 2e-4 < found.u / NINE < 2e-3
    steady = heard(turning(rng_of(5), NINE, blade(9, {1: 16, 2: 14, 3: 10})), 9)
    assert steady.drift < 3e-4


def test_a_wrong_number_of_blades_is_contradicted_by_shaft_orders() -> None:
    sound = turning(rng_of(6), NINE, {**blade(9, {1: 14, 2: 10, 3: 6}), 1: 3, 2: 0, 4: 2, 12: 3})
    for told in (7, 11):
        found = heard(sound, told)
        assert (found.blades, found.told_blades_fit) == (9, False)
        assert found.speed == pytest.approx(NINE, rel=5e-4)


def test_a_wrong_number_of_blades_is_contradicted_by_a_reading() -> None:
    found = heard(turning(rng_of(7), NINE, blade(9, {1: 14, 2: 10, 3: 6})), 7, near=1.01 * NINE)
    assert (found.blades, found.told_blades_fit) == (9, False)
    assert found.speed == pytest.approx(NINE, rel=5e-4)


def test_a_tachometer_of_wrong_pulses_does_not_contradict_the_blades() -> None:
    for ratio in (0.5, 2.0):
        found = heard(turning(rng_of(8), NINE, blade(9, {1: 14, 2: 10, 3: 8})), 9, near=ratio * NINE)
        assert (found.blades, found.told_blades_fit) == (9, True)
        assert found.speed == pytest.approx(NINE, rel=5e-4)


def test_blades_that_nobody_told() -> None:
    comb = blade(9, {1: 14, 2: 10, 3: 6})
    assert heard(turning(rng_of(9), NINE, {**comb, 1: 3, 2: 0, 4: 2, 12: 3}), None).blades == 9
    assert heard(turning(rng_of(9), NINE, comb), None, near=1.005 * NINE).blades == 9
    with pytest.raises(NotPossible, match=r"blade pass of 222\.4"):
        heard(turning(rng_of(9), NINE, comb), None)


def test_one_tone_is_no_comb_unless_a_reading_is_near() -> None:
    sound = turning(rng_of(10), NINE, {9: 12})
    with pytest.raises(NotPossible, match=r"a single tone at 222\.4"):
        heard(sound, 9)
    assert heard(sound, 9, near=1.01 * NINE).speed == pytest.approx(NINE, rel=5e-4)
    with pytest.raises(NotPossible):
        heard(turning(rng_of(10), NINE, {}, fixed={413.0: 12.0}), 9, near=NINE)


@pytest.mark.parametrize("fixed", [{}, HUM], ids=["noise", "hum"])
def test_without_blade_pass_there_is_no_speed(fixed: dict[float, float]) -> None:
    for seed in range(4):
        with pytest.raises(NotPossible, match="comb"):
            heard(turning(rng_of(20 + seed), NINE, {}, fixed=fixed), 9)


def test_a_comb_on_the_mains_multiples_is_not_taken_for_the_fan() -> None:
    with pytest.raises(NotPossible, match="mains"):
        heard(turning(rng_of(11), 100.0 / 9, blade(9, {1: 12, 2: 10, 3: 8})), 9)


def test_limits_that_cannot_be_are_refused() -> None:
    with pytest.raises(OutOfRange, match="limits"):
        speed_from_sound(np.ones(2000), 1.5, 1.5, blades=9, between=(30.0, 10.0))
