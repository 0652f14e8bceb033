"""Background noise correction K1, ISO 3744:2010 and ISO 3745:2012."""

import json
from pathlib import Path

import numpy as np
import pytest

from stillroom.core.standards import iso_3744_2010, iso_3745_2012
from stillroom.errors import OutOfRange

REFERENCE = json.loads((Path(__file__).parents[1] / "reference" / "background_noise.json").read_text("utf-8"))


def test_values_of_the_formula() -> None:
    told = REFERENCE["K1"]
    found = iso_3744_2010.K1(told["level_difference_dB"], value_from=1.0)
    assert found == pytest.approx(told["K1_dB"], abs=told["tolerance_dB"])


def test_it_is_the_energy_of_the_background_that_is_taken_off() -> None:
    """A second route: 10 lg(10^(L/10) − 10^(B/10))."""
    background, delta = 21.3, np.array([6.0, 7.5, 9.9, 14.99])
    read = background + delta
    by_energy = 10 * np.log10(10 ** (read / 10) - 10 ** (background / 10))
    assert read - iso_3744_2010.K1(delta) == pytest.approx(by_energy, abs=1e-12)


def test_the_rule_at_its_limits() -> None:
    delta = np.array([-5.0, 0.0, 5.999, 6.0, 14.999, 15.0, 40.0, np.inf])
    correction = iso_3744_2010.K1(delta)
    assert correction[:4] == pytest.approx(
        [1.2563] * 4, abs=1e-4
    )  # "1.26 dB", ISO 3744:2010, 8.2.3 (from memory)
    assert correction[4] == pytest.approx(0.1396, abs=1e-4)
    assert correction[5:].tolist() == [0.0, 0.0, 0.0]
    assert iso_3744_2010.is_upper_bound(delta).tolist() == [True, True, True, *[False] * 5]


def test_the_precision_standard_is_stricter_in_the_middle_bands() -> None:
    told = REFERENCE["precision_rule"]
    bands = np.array([100.0, 200.0, 250.0, 1000.0, 5000.0, 6300.0, 199.53, 251.19, 5011.9, 6309.6])
    middle = np.array([0, 0, 1, 1, 1, 0, 0, 1, 1, 0], dtype=bool)
    expected = np.where(middle, told["value_from_dB_250_to_5000_Hz"], told["value_from_dB_outside"])
    assert iso_3745_2012.value_from(bands).tolist() == expected.tolist()
    capped = told["largest_correction_dB"]
    largest = np.where(middle, capped["250_to_5000_Hz"], capped["outside"])
    assert iso_3745_2012.K1(1.0, bands) == pytest.approx(largest, abs=told["tolerance_dB"])
    assert iso_3745_2012.is_upper_bound(8.0, bands).tolist() == middle.tolist()


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(OutOfRange, match="level over background"):
        iso_3744_2010.K1([3.0, np.nan])
    with pytest.raises(OutOfRange, match="level over background"):
        iso_3744_2010.is_upper_bound(np.nan)
    with pytest.raises(OutOfRange, match="ΔL from which"):
        iso_3744_2010.K1(3.0, value_from=0.0)
    with pytest.raises(OutOfRange, match="midband frequency"):
        iso_3745_2012.value_from(0.0)
