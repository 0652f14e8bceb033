"""The speed at a setting, tested or between two that were, against laws of speed that are known."""

from __future__ import annotations

import numpy as np
import pytest

from stillroom.core.characteristic import Part
from stillroom.core.draws import normal_draws
from stillroom.core.speeds import SettingReadings, SettingSpeeds, fit_settings
from stillroom.errors import NotPossible

PHI = np.linspace(0.0, 0.25, 13)
GRID = np.linspace(0.0, 0.3, 50)
TRIALS = 4000


def law(duty: float, phi: np.ndarray, gamma: float = 1.1) -> np.ndarray:
    """A fan that slows down as it is loaded: by 6 % from free air to the middle, at each duty alike [1/s]."""
    free = 8.0 + 22.0 * ((duty - 0.1) / 0.9) ** gamma
    return free * (0.94 + 0.06 * (phi / 0.25) ** 2)


def made(duties: tuple[float, ...], gamma: float = 1.1, noise: float = 0.0, seed: int = 1) -> SettingSpeeds:
    random = np.random.default_rng(seed)
    return fit_settings(
        "duty",
        [
            SettingReadings("duty", each, PHI, law(each, PHI, gamma) + noise * random.normal(size=13),
                          {"instrument/tacho/gain": 0.002 * law(each, PHI, gamma)}, np.full(13, noise))
            for each in duties
        ],
        "fan-1",
    )  # fmt: skip


SOURCES = ("instrument/tacho/gain",)


def speeds(told: SettingSpeeds, duty: float, part: Part = Part.TOTAL) -> np.ndarray:
    return told.speeds(duty, GRID, part, SOURCES, TRIALS, 20260101)


def test_a_tested_setting_gives_the_speed_as_it_was_measured() -> None:
    told = made((0.2, 0.4, 0.6, 0.8, 1.0))
    assert told.words(0.4) == ""
    rows = speeds(told, 0.4)
    assert rows[0] == pytest.approx(law(0.4, GRID), rel=1e-9)
    assert rows[1] == pytest.approx(law(0.4, GRID) * 1.002, rel=1e-9)
    assert rows.shape == (2 + TRIALS, len(GRID))
    drawn = normal_draws(SOURCES[0], TRIALS)
    assert rows[2:, 20] / rows[0, 20] == pytest.approx(1 + 0.002 * drawn, rel=1e-9)


@pytest.mark.parametrize("duty", [0.25, 0.33, 0.5, 0.72, 0.95])
@pytest.mark.parametrize("gamma", [0.8, 1.0, 1.3])
def test_between_settings_the_speed_lies_within_what_is_said(duty: float, gamma: float) -> None:
    told = made((0.2, 0.4, 0.6, 0.8, 1.0), gamma)
    rows = speeds(told, duty)
    true = law(duty, GRID, gamma)
    assert rows[0] == pytest.approx(true, rel=0.01)
    trials = rows[2:] / (1 + 0.002 * normal_draws(SOURCES[0], TRIALS))[:, None]
    low, high = np.quantile(trials, [0.025, 0.975], axis=0)
    assert np.all((low <= true) & (true <= high))
    widest = (
        0.16 if duty < 0.3 else 0.06
    )  # next to its least setting a fan may still stand at its least speed
    assert np.all(high - low < widest * true)


def test_between_settings_it_says_between_which() -> None:
    assert made((0.2, 0.4, 0.6)).words(0.5) == "interpolated between 40 % and 60 %"
    read = [
        SettingReadings("volts", each, PHI, law(each / 12, PHI), {}, np.zeros(13))
        for each in (5.0, 7.0, 12.0)
    ]
    volts = fit_settings("volts", read, "x")
    assert volts.words(9.0) == "interpolated between 7 V and 12 V"


def test_the_interpolation_is_monotone_and_meets_the_settings() -> None:
    told = made((0.2, 0.3, 0.6, 1.0), gamma=2.5)
    at = np.array([speeds(told, each, Part.SHARED)[0, 25] for each in np.linspace(0.2, 1.0, 60)])
    assert np.all(np.diff(at) > 0)
    assert speeds(told, 0.601)[0] == pytest.approx(law(0.6, GRID, 2.5), rel=5e-3)


@pytest.mark.parametrize("duty", [0.1, 0.19, 1.05])
def test_outside_those_tested_is_refused(duty: float) -> None:
    with pytest.raises(NotPossible, match=r"tested from 20 % to 100 %"):
        speeds(made((0.2, 0.6, 1.0)), duty)


def test_one_setting_alone_answers_for_itself_only() -> None:
    told = made((0.5,))
    assert speeds(told, 0.5)[0] == pytest.approx(law(0.5, GRID), rel=1e-9)
    with pytest.raises(NotPossible, match="tested at 50 % only"):
        speeds(told, 0.6)


def test_reading_noise_moves_the_trials_as_repeated_sweeps_would() -> None:
    noise = 0.15
    told = made((0.4, 0.8), noise=noise)
    spread = speeds(told, 0.4, Part.TOTAL)[2:] - speeds(told, 0.4, Part.SHARED)[2:]
    repeated = np.array([speeds(made((0.4, 0.8), noise=noise, seed=s), 0.4)[0] for s in range(400)])
    inside = slice(5, 40)
    assert spread.std(axis=0)[inside] == pytest.approx(repeated.std(axis=0)[inside], rel=0.35)


def test_few_readings_give_one_speed() -> None:
    told = fit_settings(
        "duty", [SettingReadings("duty", 0.5, PHI[:2], np.array([20.0, 21.0]), {}, np.zeros(2))], "x"
    )
    rows = told.speeds(0.5, GRID, Part.TOTAL, (), TRIALS, 20260101)
    assert rows[0] == pytest.approx(20.5)
    assert rows[1:].std() == pytest.approx(
        0.5, rel=0.1
    )  # half of the residual variance of two about their mean
