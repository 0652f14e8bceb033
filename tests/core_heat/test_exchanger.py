"""Cross-flow effectiveness against ht, integration, and the limits that are known in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest
from ht.hx import effectiveness_from_NTU

from stillroom.core.heat.exchanger import AIR_SPECIFIC_HEAT, cross_flow_effectiveness, least_rise
from stillroom.errors import OutOfRange


def test_the_textbook_form_is_one_percent_high() -> None:
    """UA 75, C 50 and 30: 0.7632 by the textbook form (as read in a library's manual), exact 0.7557 (ht 1.2.0)."""
    exact = float(cross_flow_effectiveness(2.5, 0.6))
    assert exact == pytest.approx(0.7557179310473223, rel=1e-10)
    textbook = 1.0 - math.exp((math.exp(-0.6 * 2.5**0.78) - 1.0) * 2.5**0.22 / 0.6)
    assert textbook == pytest.approx(0.7632, abs=5e-5)
    assert textbook / exact - 1.0 == pytest.approx(0.0099, abs=2e-4)


def test_the_value_of_a_public_implementation_s_tests() -> None:
    """NTU 5, Cr 0.7, both unmixed: 0.8444821799748551, as transcribed in ht, tests/test_hx.py."""
    assert float(cross_flow_effectiveness(5.0, 0.7)) == pytest.approx(0.8444821799748551, rel=1e-9)


@pytest.mark.parametrize("ntu", [0.05, 0.5, 1.0, 3.0, 8.0])
@pytest.mark.parametrize("ratio", [0.05, 0.4, 0.999])
def test_against_ht(ntu: float, ratio: float) -> None:
    """ht's "crossflow", which integrates Bessel functions: another route to the same solution."""
    expected = effectiveness_from_NTU(NTU=ntu, Cr=ratio, subtype="crossflow")
    assert float(cross_flow_effectiveness(ntu, ratio)) == pytest.approx(expected, rel=1e-7)


def test_against_two_streams_cut_into_cells() -> None:
    """Brute force: both streams in 400 × 400 cells, each giving on what it has, second order; NTU 1.6, C 0.45."""
    ntu, ratio, cells = 1.6, 0.45, 400
    cold_step, hot_step = ntu / cells, ntu * ratio / cells
    hot = np.ones(cells)  # one value for each strip of the stream with the greater capacity
    out = np.empty(cells)
    for strip in range(cells):
        cold = 0.0
        for cell in range(cells):
            rise = hot[cell] - cold
            mean = rise / (1.0 + 0.5 * (cold_step + hot_step))  # mean of begin and end of the cell
            cold += cold_step * mean
            hot[cell] -= hot_step * mean
        out[strip] = cold
    assert float(cross_flow_effectiveness(ntu, ratio)) == pytest.approx(out.mean(), abs=2e-5)


def test_limits() -> None:
    assert float(cross_flow_effectiveness(2.0, 0.0)) == pytest.approx(1.0 - math.exp(-2.0), rel=1e-12)
    assert float(cross_flow_effectiveness(5.0, 0.0)) == pytest.approx(0.9932620530009145, rel=1e-12)
    assert float(cross_flow_effectiveness(0.0, 0.7)) == 0.0
    assert 0.0 < float(cross_flow_effectiveness(200.0, 1.0)) < 1.0
    both = cross_flow_effectiveness(np.array([[0.5], [2.0]]), np.array([0.2, 0.6, 1.0]))
    assert both.shape == (2, 3)
    assert np.all(np.diff(both, axis=1) < 0.0)
    assert np.all(np.diff(both, axis=0) > 0.0)


@pytest.mark.parametrize(("ntu", "ratio"), [(-0.1, 0.5), (1.0, 1.1), (1.0, -0.1), (math.nan, 0.5)])
def test_what_no_exchanger_has_is_refused(ntu: float, ratio: float) -> None:
    with pytest.raises(OutOfRange, match="cross-flow exchanger"):
        cross_flow_effectiveness(ntu, ratio)


def test_no_radiator_is_cooler_than_the_air_allows() -> None:
    """300 W into 60 m³/h of 1.2 kg/m³: 300/(1.2 · 1006/60) = 14.91 K, and any effectiveness below 1 asks for more."""
    least = least_rise(300.0, 60.0 / 3600.0, 1.2)
    assert least == pytest.approx(300.0 / (1.2 * AIR_SPECIFIC_HEAT / 60.0))
    air, liquid = 1.2 * AIR_SPECIFIC_HEAT / 60.0, 174.0
    for ntu in (1.0, 3.0, 10.0):
        effectiveness = float(cross_flow_effectiveness(ntu, air / liquid))
        assert 300.0 / (effectiveness * air) > least
    with pytest.raises(OutOfRange, match="air through a radiator"):
        least_rise(300.0, 0.0, 1.2)
