"""Orders and origins of tones, and pulses per revolution: by construction."""

from __future__ import annotations

import pytest

from stillroom.core.sound.orders import Origin, across_speeds, name_tones
from stillroom.core.sound.pulses import pulses_per_revolution
from stillroom.core.sound.tones import Tone
from stillroom.errors import OutOfRange

SPEEDS = (10.0, 14.0, 19.7, 26.3)


def tone(frequency: float) -> Tone:
    return Tone(frequency, 30.0, 10.0, 10.0, 8.0, 9.0, True, ())


def origins(frequencies: list[float], speed: float, blades: int | None) -> list[Origin]:
    return [each.origin for each in name_tones([tone(f) for f in frequencies], speed, blades)]


def test_what_one_speed_tells() -> None:
    found = origins([126.02, 252.0, 56.01, 98.0, 100.01, 412.3], 14.0, 9)
    assert found == [
        Origin.BLADE_PASS,
        Origin.BLADE_PASS_HARMONIC,
        Origin.MOTOR,
        Origin.SHAFT,
        Origin.FIXED,
        Origin.UNKNOWN,
    ]
    (named,) = name_tones([tone(126.0)], 14.0, 9)
    assert named.order == pytest.approx(9.0)


def test_without_blades_no_order_has_an_origin() -> None:
    assert origins([126.0, 56.0, 300.1], 14.0, None) == [Origin.UNKNOWN, Origin.UNKNOWN, Origin.FIXED]


def test_a_high_order_is_met_by_chance_and_told_only_by_several_speeds() -> None:
    assert origins([71 * 14.0], 14.0, 9) == [Origin.UNKNOWN]
    found = across_speeds(SPEEDS, [[tone(71 * speed)] for speed in SPEEDS], 9)
    assert found.lines[0].origin is Origin.SHAFT
    assert origins([72 * 14.0], 14.0, 9) == [Origin.BLADE_PASS_HARMONIC]


def test_the_same_order_is_locked_and_the_same_frequency_fixed() -> None:
    tones = [
        [*(tone(order * speed + 0.02) for order in (4, 7, 9, 18)), tone(412.0 + 0.3 * i)]
        for i, speed in enumerate(SPEEDS)
    ]
    found = across_speeds(SPEEDS, tones, 9)
    expected = [Origin.MOTOR, Origin.SHAFT, Origin.BLADE_PASS, Origin.BLADE_PASS_HARMONIC, Origin.FIXED]
    for dwell in found.named:
        assert [each.origin for each in dwell] == expected
    assert [(line.origin, line.dwells) for line in found.lines] == [(each, (0, 1, 2, 3)) for each in expected]
    assert found.lines[2].order == pytest.approx(9.0, abs=0.01)
    assert found.lines[4].frequency == pytest.approx(412.45, abs=0.2)
    assert found.lines[4].order is None


def test_a_fixed_tone_that_meets_the_blade_pass_once_stays_fixed_elsewhere() -> None:
    """At 14.0 1/s the blade pass of 9 is 126 Hz; a structure rings at 126.1 Hz at every speed."""
    found = across_speeds(SPEEDS, [[tone(126.1)] for _ in SPEEDS], 9)
    assert [dwell[0].origin for dwell in found.named] == [Origin.FIXED] * 4


def test_an_order_that_is_not_whole_is_locked_but_not_known() -> None:
    found = across_speeds(SPEEDS, [[tone(5.37 * speed)] for speed in SPEEDS], 9)
    assert found.lines[0].origin is Origin.UNKNOWN
    assert found.lines[0].order == pytest.approx(5.37)


def test_two_dwells_of_one_speed_say_nothing() -> None:
    found = across_speeds((14.0, 14.01), [[tone(300.4)], [tone(300.4)]], 9)
    assert found.lines == ()


def test_no_tones() -> None:
    assert across_speeds((10.0,), [[]], 9).named == ((),)
    assert across_speeds((), [], 9).named == ()
    with pytest.raises(OutOfRange, match="dwells"):
        across_speeds((10.0,), [], 9)
    with pytest.raises(OutOfRange, match="speed"):
        name_tones([tone(100.0)], 0.0, 9)


@pytest.mark.parametrize(("ratio", "pulses"), [(0.5, 1), (1.0, 2), (1.5, 3), (2.0, 4), (3.0, 6)])
def test_pulses_from_the_ratio(ratio: float, pulses: int) -> None:
    """p pulses reckoned as 2 show p/2 times the speed (3.7: the ratios 0.5, 1.5, 2, 3 within 1 %)."""
    speeds = [10.0, 20.0, 30.0]
    found = pulses_per_revolution(
        [speed * ratio * off for speed, off in zip(speeds, (0.993, 1.0, 1.008), strict=True)], speeds
    )
    assert (found.named, found.pulses, found.agrees) == (ratio, pulses, ratio == 1.0)


def test_a_ratio_that_is_none_of_these_has_no_name() -> None:
    found = pulses_per_revolution([10.3], [10.0])
    assert (found.named, found.pulses, found.agrees) == (None, None, False)
    assert found.ratio == pytest.approx(1.03)
    assert pulses_per_revolution([20.0, 15.0], [10.0, 10.0]).named is None
    for shown, true in (([], []), ([1.0], [1.0, 2.0]), ([0.0], [1.0])):
        with pytest.raises(OutOfRange):
            pulses_per_revolution(shown, true)
