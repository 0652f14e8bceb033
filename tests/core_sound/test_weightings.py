"""Frequency and time weightings against IEC 61672-1:2013, Tables 3 and 4, and against two libraries."""

from __future__ import annotations

import math

import numpy as np
import pyfar
import pytest
from scipy import signal
from sound_reference import figures

from stillroom.core.sound.analysis import Weighting, analyse
from stillroom.core.sound.weighting import a_filter, bin_weights
from stillroom.core.standards import iec_61672_1_2013 as iec
from stillroom.errors import OutOfRange

RATES = (44_100.0, 48_000.0, 88_200.0, 96_000.0, 176_400.0, 192_000.0)
WEIGHTINGS = {"A_weighting_dB": iec.a_weighting, "C_weighting_dB": iec.c_weighting}


def test_the_poles_are_the_published_ones() -> None:
    (entry,) = figures("weighting_pole_frequencies_Hz")
    expected = [entry["expected"][f"f{i}"] for i in (1, 2, 3, 4)]
    np.testing.assert_allclose(iec.POLES, expected, atol=5e-3)


@pytest.mark.parametrize("quantity", WEIGHTINGS)
def test_weightings_are_those_of_table_3(quantity: str) -> None:
    for entry in figures(quantity):
        value = WEIGHTINGS[quantity](entry["inputs"]["exact_Hz"])
        assert value == pytest.approx(entry["expected"], abs=entry["tolerance"]["table_rounding_dB"] + 1e-9)


@pytest.mark.parametrize("quantity", WEIGHTINGS)
def test_class_1_limits_are_those_of_table_3(quantity: str) -> None:
    limits = {nominal: (upper, lower) for nominal, upper, lower in iec.CLASS_1}
    assert len(limits) == 34
    for entry in figures(quantity):
        upper, lower = limits[entry["inputs"]["nominal_Hz"]]
        assert upper == entry["tolerance"]["class1_upper_dB"]
        assert lower == (entry["tolerance"]["class1_lower_dB"] or -math.inf)


def test_weightings_agree_with_pyfar() -> None:
    f = np.geomspace(10.0, 20_000.0, 60)
    for name, ours in (("A", iec.a_weighting), ("C", iec.c_weighting)):
        theirs = pyfar.constants.frequency_weighting_curve(name, f)
        np.testing.assert_allclose(ours(f), theirs, atol=2e-3, err_msg="pyfar, IEC 61672-1 Annex E")


def test_a_frequency_that_is_none_is_refused() -> None:
    with pytest.raises(OutOfRange, match="frequency"):
        iec.a_weighting(0.0)


@pytest.mark.parametrize("rate", RATES)
def test_the_digital_filter_is_within_a_tenth_of_a_decibel(rate: float) -> None:
    f = np.geomspace(10.0, 10.0**4.1, 400)
    _, response = signal.sosfreqz(a_filter(rate), f, fs=rate)
    error = 20.0 * np.log10(np.abs(response)) - iec.a_weighting(f)
    assert np.abs(error).max() < 0.025  # definition: IEC 61672-1:2013, Annex E
    assert np.abs(np.roots(a_filter(rate)[2, 3:])).max() < 1.0


@pytest.mark.parametrize("rate", [8000.0, 16_000.0, 22_050.0, 32_000.0, *RATES])
def test_the_digital_filter_is_of_class_1_at_every_rate(rate: float) -> None:
    for nominal, upper, lower in iec.CLASS_1:
        f = 1000.0 * 10.0 ** (round(10.0 * math.log10(nominal / 1000.0)) / 10.0)
        if f < 0.45 * rate:
            _, response = signal.sosfreqz(a_filter(rate), [f], fs=rate)
            error = 20.0 * math.log10(abs(response[0])) - float(iec.a_weighting(f))
            assert lower / 2.0 <= error <= upper / 2.0, f


def test_a_rate_without_1_khz_is_refused() -> None:
    with pytest.raises(OutOfRange, match="sampling rate"):
        a_filter(2000.0)


def test_nothing_counts_below_10_hz() -> None:
    for weighting in Weighting:
        weights = bin_weights(weighting, 2.5, 1001)
        assert (weights[:4] == 0.0).all()
        assert (weights[4:] > 0.0).all()
        assert weights[400] == pytest.approx(1.0, abs=1e-12)


# --- time weightings ---------------------------------------------------------------------------------------------

BURSTS = [("LAFmax_minus_steady_dB", iec.FAST), ("LASmax_minus_steady_dB", iec.SLOW)]


@pytest.mark.parametrize(("quantity", "constant"), BURSTS)
def test_toneburst_responses_are_those_of_table_4(quantity: str, constant: float) -> None:
    for entry in figures(quantity):
        response = iec.toneburst_response(entry["inputs"]["toneburst_ms"] / 1000.0, constant)
        assert response == pytest.approx(entry["inputs"]["closed_form_dB"], abs=1e-3)
        assert response == pytest.approx(entry["expected"], abs=entry["tolerance"])


@pytest.mark.parametrize("rate", [44_100, 48_000, 192_000])
@pytest.mark.parametrize(("quantity", "constant"), BURSTS)
def test_bursts_of_4_khz_are_measured_as_table_4_says(quantity: str, constant: float, rate: int) -> None:
    time = np.arange(3 * rate) / rate
    tone = 0.5 * np.sin(2.0 * np.pi * 4000.0 * time)
    steady = 10.0 * math.log10(0.125) + float(iec.a_weighting(4000.0))
    for entry in figures(quantity):
        burst = np.where((time >= 1.0) & (time < 1.0 + entry["inputs"]["toneburst_ms"] / 1000.0), tone, 0.0)
        fast = analyse([burst.astype(np.float32)], rate).fast
        highest = fast.fast_max if constant == iec.FAST else fast.slow_max
        assert highest - steady == pytest.approx(entry["expected"], abs=0.1), entry["inputs"]


def test_a_steady_tone_has_the_same_level_however_it_is_averaged() -> None:
    time = np.arange(10 * 48_000) / 48_000.0
    found = analyse([(0.2 * np.sin(2.0 * np.pi * 1000.0 * time)).astype(np.float32)], 48_000)
    level = 10.0 * math.log10(0.02)
    assert found.equivalent[Weighting.A] == pytest.approx(level, abs=1e-4)
    assert found.fast.fast_max == pytest.approx(level, abs=0.01)
    assert found.fast.slow_max == pytest.approx(level, abs=0.01)
    assert found.fast.exceeded[50] == pytest.approx(level, abs=0.01)
    assert (
        found.fast.exceeded[90]
        <= found.fast.exceeded[50]
        <= found.fast.exceeded[10]
        <= found.fast.exceeded[1]
    )
    np.testing.assert_allclose(found.fast.levels[8:], level, atol=0.01)
    np.testing.assert_allclose(np.diff(found.fast.times), 0.125, atol=0.006)
