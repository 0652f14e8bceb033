"""ECMA-418-1:2024 against its printed examples (tests/reference/tones_and_loudness.json names each source)."""

from __future__ import annotations

import numpy as np
import pytest
from tonal_sounds import entries

from stillroom.core.standards import ecma_418_1_2024 as ecma
from stillroom.errors import OutOfRange


@pytest.mark.parametrize("entry", entries("critical_bandwidth_Hz"))
def test_critical_bandwidth(entry: dict) -> None:
    assert ecma.critical_bandwidth(entry["inputs"]["ft_Hz"]) == pytest.approx(
        entry["expected"], abs=entry["tolerance"]
    )


def test_critical_band_edges() -> None:
    (entry,) = entries("critical_band_edges_Hz")
    f1, f2 = ecma.critical_band(entry["inputs"]["ft_Hz"])
    assert (f1, f2) == pytest.approx(
        (entry["expected"]["f1"], entry["expected"]["f2"]), abs=entry["tolerance"]
    )


def test_a_critical_band_is_geometric_above_500_hz_and_arithmetic_up_to_it() -> None:
    above, up_to = np.array([501.0, 3000.0]), np.array([100.0, 500.0])
    f1, f2 = ecma.critical_band(above)
    assert np.sqrt(f1 * f2) == pytest.approx(above, rel=1e-12)
    f1, f2 = ecma.critical_band(up_to)
    assert (f1 + f2) / 2.0 == pytest.approx(up_to, rel=1e-12)
    assert f2 - f1 == pytest.approx(ecma.critical_bandwidth(up_to), rel=1e-12)


@pytest.mark.parametrize("entry", entries("proximity_spacing_Hz"))
def test_proximity_spacing(entry: dict) -> None:
    assert ecma.proximity_spacing(entry["inputs"]["ft_Hz"]) == pytest.approx(
        entry["expected"], abs=entry["tolerance"]
    )


def test_proximity_reaches_half_a_critical_band_at_1_khz() -> None:
    """The formula's own end: continuity at the switch, within 1 %."""
    assert ecma.proximity_spacing(999.999) == pytest.approx(float(ecma.proximity_spacing(1000.0)), rel=0.01)


@pytest.mark.parametrize("entry", entries("TNR_prominence_criterion_dB"))
def test_criterion_of_the_tone_to_noise_ratio(entry: dict) -> None:
    found = ecma.tone_to_noise_criterion(entry["inputs"]["ft_Hz"])
    assert found == pytest.approx(entry["expected"], abs=entry["tolerance"])


@pytest.mark.parametrize("entry", entries("PR_prominence_criterion_dB"))
def test_criterion_of_the_prominence_ratio(entry: dict) -> None:
    found = ecma.prominence_criterion(entry["inputs"]["ft_Hz"])
    assert found == pytest.approx(entry["expected"], abs=entry["tolerance"])


def test_edges_of_the_neighbouring_bands() -> None:
    (entry,) = entries("PR_neighbour_band_edges")
    lower, upper = ecma.neighbour_edges(1000.0)
    expected = (entry["expected"]["f1L_1000"], entry["expected"]["f2U_1000"])
    assert (lower, upper) == pytest.approx(expected, abs=entry["tolerance"])
    assert ecma.neighbour_edges(171.4)[0] == 20.0


def test_neighbours_are_about_as_wide_as_a_critical_band_at_their_own_middle() -> None:
    """The polynomials are fits to contiguous critical bands: widths by Formula (2), within 6 %."""
    f = np.array([200.0, 400.0, 1000.0, 1599.0, 1601.0, 3000.0, 8000.0])
    (f1, f2), (lower, upper) = ecma.critical_band(f), ecma.neighbour_edges(f)
    assert f1 - lower == pytest.approx(ecma.critical_bandwidth((f1 + lower) / 2.0), rel=0.06)
    assert upper - f2 == pytest.approx(ecma.critical_bandwidth((f2 + upper) / 2.0), rel=0.06)


def test_the_range_of_discrete_tones() -> None:
    (entry,) = entries("discrete_tone_range_Hz")
    assert entry["expected"] == pytest.approx(ecma.RANGE, abs=entry["tolerance"])
    assert ecma.in_range([89.0, 89.2, 11219.0, 11221.0]).tolist() == [False, True, True, False]


def test_flat_noise_has_a_prominence_ratio_of_the_bands_widths() -> None:
    """Density 1 per Hz: mean squares are widths; up to 171.4 Hz the lower neighbour counts as 100 Hz."""
    (f1, f2), (lower, upper) = ecma.critical_band(100.0), ecma.neighbour_edges(100.0)
    found = ecma.prominence(f2 - f1, f1 - lower, upper - f2, np.array(100.0))
    assert found == pytest.approx(10.0 * np.log10((f2 - f1) / ((100.0 + upper - f2) / 2.0)), abs=1e-9)


def test_a_frequency_that_cannot_be_is_refused() -> None:
    with pytest.raises(OutOfRange, match="frequency"):
        ecma.critical_bandwidth(0.0)
