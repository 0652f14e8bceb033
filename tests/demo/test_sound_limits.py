"""From recordings to the speed that a noise limit allows: against the truth, over several laboratories."""

from __future__ import annotations

from statistics import median

import pytest
from sound_lab import LIMITS, SmallLab, small_lab

from stillroom.demo.sound.truth import AT_LIMIT, NOT_SO_QUIET, TOPS_OUT
from stillroom.demo.sound.voices import INVERTING

SEEDS = (1, 2, 3, 4, 5, 6)
NAMES = (INVERTING, "Bilberry")
WITHIN = 0.01
"""How near a unique noise-limited speed of a mounting lies to its truth [1]."""

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def labs(tmp_path_factory: pytest.TempPathFactory) -> list[SmallLab]:
    return [small_lab(tmp_path_factory.mktemp(f"seed{seed}") / "one", seed, NAMES) for seed in SEEDS]


def cases(labs: list[SmallLab]) -> list[tuple[SmallLab, str, float]]:
    return [(lab, fan, limit) for lab in labs for fan in NAMES for limit in LIMITS]


def test_how_a_limit_is_met_is_told(labs: list[SmallLab]) -> None:
    for lab, fan, limit in cases(labs):
        row, truth = lab.rows[fan, limit], lab.of_mounting(fan, limit)
        assert (row.speed is None) == (truth.reached == NOT_SO_QUIET)
        assert row.tops_out == (truth.reached == TOPS_OUT)


def test_a_unique_speed_is_found_within_one_percent(labs: list[SmallLab]) -> None:
    wrong = []
    for lab, fan, limit in cases(labs):
        truth = lab.of_mounting(fan, limit)
        if truth.reached == AT_LIMIT and not truth.avoid:
            row = lab.rows[fan, limit]
            assert row.speed is not None
            off = row.speed / truth.speed - 1
            if abs(off) > WITHIN:
                wrong.append((lab.world.room.seed, fan, limit, f"{100 * off:+.2f} %"))
    assert not wrong


def test_the_inverting_fan_gets_both_speeds_and_the_band_between(labs: list[SmallLab]) -> None:
    """A resonance 50 rpm wide lies between the dwells: the ramp alone finds it."""
    inverted = 0
    for lab in labs:
        for limit in LIMITS:
            row, truth = lab.rows[INVERTING, limit], lab.of_mounting(INVERTING, limit)
            if not truth.avoid or truth.avoid[0][1] - truth.avoid[0][0] < 20 / 60:
                continue
            inverted += 1
            assert row.avoid, (lab.world.room.seed, limit)
            assert row.highest is not None
            assert row.strict is not None
            assert row.highest == pytest.approx(truth.speed, rel=WITHIN)
            assert row.strict == pytest.approx(truth.strict, rel=0.015)
            low, high = row.avoid[0][0], row.avoid[-1][1]
            assert low == pytest.approx(truth.avoid[0][0], rel=0.015)
            assert high == pytest.approx(truth.avoid[-1][1], rel=0.015)
    assert inverted >= len(labs) // 2


def test_intervals_hold_the_models_speed_as_often_as_they_say(labs: list[SmallLab]) -> None:
    """95 % intervals over samples, mountings, days and calibrators: of 36 cases, 3 limits of one fan alike."""
    inside = []
    for lab, fan, limit in cases(labs):
        row, truth = lab.rows[fan, limit], lab.of_model(fan, limit)
        if row.low is not None and row.high is not None and truth.reached != NOT_SO_QUIET:
            top = lab.world.samples[fan, "s1"].full_speed
            inside.append(row.low - 1e-6 <= min(truth.speed, top) <= row.high + 1e-6)
    rows = [lab.rows[fan, limit] for lab, fan, limit in cases(labs)]
    widths = [(e.high - e.low) / (e.high + e.low) for e in rows if e.low is not None and e.high is not None]
    print(f"{sum(inside)} of {len(inside)} inside; median half-width {100 * median(widths):.1f} %")
    assert median(widths) < 0.10, "padding is no way out: 1 dB between samples is 4.5 %"
    assert len(inside) >= 30
    assert sum(inside) >= 0.9 * len(inside)
