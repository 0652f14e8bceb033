"""Density, vapour pressure and viscosity of air, against published figures and CoolProp."""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from CoolProp.HumidAirProp import HAPropsSI
from hypothesis import given
from hypothesis import strategies as st

from stillroom.core import fanlaws
from stillroom.core.standards import moist_air_cipm_2007 as cipm
from stillroom.core.standards.ansi_amca_210_2007 import air
from stillroom.core.standards.limits import Flag
from stillroom.errors import OutOfRange

TEMPERATURES = st.floats(278.15, 313.15)
PRESSURES = st.floats(80e3, 108e3)
HUMIDITIES = st.floats(0.0, 1.0)


@pytest.mark.parametrize("number", ["C001", "C002", "C004", "C006", "C007", "C009"])
def test_density_meets_cipm_2007(published, number):
    figure = published(number)
    x = figure.inputs
    figure.meets(cipm.density(x["t_C"] + 273.15, x["p_Pa"], x["rh"], x["x_CO2"]))


@pytest.mark.parametrize("number", ["C010", "C012"])
def test_density_is_near_the_real_gas_value(published, number):
    figure = published(number)
    x = figure.inputs
    got = cipm.density(x["t_C"] + 273.15, x["p_Pa"], x["rh"])
    assert got == pytest.approx(figure.expected, rel=4.5e-5)  # the two formulations differ by 4e-5


def test_density_of_standard_air(published):
    figure = published("C014")
    figure.meets(cipm.density(289.15, 100e3, 0.65))
    assert published("C013").expected == air.STANDARD_DENSITY == fanlaws.STANDARD_DENSITY


@given(TEMPERATURES, PRESSURES, HUMIDITIES)
def test_density_follows_coolprop_away_from_the_printed_conditions(T, p, h):
    second = 1.0 / HAPropsSI("Vha", "T", T, "P", p, "R", h)
    assert float(cipm.density(T, p, h)) == pytest.approx(second, rel=1.5e-4)


@given(TEMPERATURES, PRESSURES, HUMIDITIES, st.floats(0.0003, 0.002))
def test_carbon_dioxide_adds_its_own_weight(T, p, h, x):
    # (2) of the source: the relative effect of x_CO2 is 1.4446/3.48374 per unit, for dry air
    ratio = cipm.density(T, p, 0.0, x) / cipm.density(T, p, 0.0)
    assert float(ratio) == pytest.approx(1.0 + 1.4446 / 3.48374 * (x - 0.0004), rel=1e-7)
    assert (cipm.density(T, p, h, x) >= cipm.density(T, p, h)) == (x >= 0.0004)


@given(TEMPERATURES, PRESSURES, st.floats(0.0, 0.98))
def test_density_falls_with_temperature_and_humidity_and_rises_with_pressure(T, p, h):
    here = cipm.density(T, p, h)
    assert cipm.density(T + 0.01, p, h) < here
    assert cipm.density(T, p, h + 0.01) < here
    assert cipm.density(T, p + 1.0, h) > here


def test_thin_dry_air_is_an_ideal_gas():
    p = np.array([1.0, 10.0, 100.0])
    ideal = p * 28.96546e-3 / (8.314472 * 293.15)
    np.testing.assert_allclose(cipm.density(293.15, p, 0.0), ideal, rtol=1e-6)


@pytest.mark.parametrize("number", ["C015", "C017"])
def test_saturation_pressure_meets_the_table(published, number):
    figure = published(number)
    figure.meets(cipm.saturation_vapour_pressure(figure.inputs["t_C"] + 273.15))


@given(TEMPERATURES)
def test_saturation_pressure_follows_that_of_water(T):
    second = PropsSI("P", "T", T, "Q", 0.0, "Water")  # IAPWS-95
    assert float(cipm.saturation_vapour_pressure(T)) == pytest.approx(second, rel=1e-3)


@pytest.mark.parametrize("number", ["C020"])
def test_density_is_near_the_psychrometric_value(published, number):
    figure = published(number)
    x = figure.inputs
    h = HAPropsSI("R", "T", x["t_C"] + 273.15, "P", x["p_Pa"], "W", x["W"])
    got = float(cipm.density(x["t_C"] + 273.15, x["p_Pa"], h))
    assert got == pytest.approx(figure.expected, rel=1e-3)  # ideal-gas forms are 0.03 to 0.07 % low
    assert got > figure.expected
    per_dry = (1.0 + x["W"]) / got
    assert per_dry == pytest.approx(published("C019").expected, rel=1e-3)


def test_wet_bulb_form_meets_its_transcription(published):
    published("C022").meets(air.saturation_vapour_pressure(288.15))
    published("C023").meets(air.vapour_pressure(295.15, 288.15, 101325.0))
    published("C024").meets(air.ambient_density(295.15, 288.15, 101325.0))


@given(st.floats(283.15, 303.15), st.floats(0.0, 8.0), PRESSURES)
def test_wet_bulb_form_is_a_little_below_the_real_density(dry, depression, p):
    wet = dry - depression
    try:
        h = HAPropsSI("R", "T", dry, "P", p, "B", wet)
        ours = float(air.ambient_density(dry, wet, p))
    except (OutOfRange, ValueError):
        return  # drier than air can be
    assert ours == pytest.approx(float(cipm.density(dry, p, min(h, 1.0))), rel=1.5e-3)


def test_saturated_air_has_its_own_vapour_pressure():
    np.testing.assert_allclose(
        air.vapour_pressure(295.15, 295.15, 98e3), air.saturation_vapour_pressure(295.15), rtol=0
    )


@pytest.mark.parametrize("number", ["C026", "C029"])
def test_viscosity(published, number):
    figure = published(number)
    figure.meets(air.viscosity(figure.inputs["t_C"] + 273.15))


def test_viscosity_of_hot_damp_air_is_overstated_by_a_known_amount(published):
    figure = published("C031")
    figure.meets(HAPropsSI("mu", "T", 313.15, "P", 101325.0, "R", 0.5))
    assert float(air.viscosity(313.15)) / figure.expected == pytest.approx(1.012, abs=1e-3)


@given(st.floats(278.15, 303.15), st.floats(0.0, 0.6))
def test_viscosity_follows_coolprop(T, h):
    second = HAPropsSI("mu", "T", T, "P", 101325.0, "R", h)
    assert float(air.viscosity(T)) == pytest.approx(second, rel=8e-3)


@given(PRESSURES, st.floats(-500.0, 500.0), TEMPERATURES, st.floats(-10.0, 10.0))
def test_density_at_a_plane_is_that_of_the_same_air(p, p_s, T_0, warmer):
    T_x = T_0 + warmer
    rho = float(air.plane_density(cipm.density(T_0, p, 0.0), p, T_0, p_s, T_x))
    assert rho == pytest.approx(float(cipm.density(T_x, p + p_s, 0.0)), rel=2e-4)
    assert float(air.plane_density(1.19, p, T_0, 0.0, T_0)) == pytest.approx(1.19, rel=1e-15)


def test_values_outside_the_formula_are_marked_not_refused():
    flags = cipm.validity([293.15, 310.15, 293.15], [101325.0, 101325.0, 55e3])
    assert flags.tolist() == [0, Flag.AIR_TEMPERATURE, Flag.AIR_PRESSURE]


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (([293.15, -1.0], 1e5, 0.5), "air temperature"),
        ((293.15, [1e5, -101325.0], 0.5), "absolute air pressure"),
        ((293.15, 1e5, [0.5, 1.2]), "relative humidity"),
        ((293.15, 1e5, [0.5, -0.1]), "relative humidity"),
        ((293.15, 1e5, [0.5, float("nan")]), "relative humidity"),
        (([293.15, float("inf")], 1e5, 0.5), "air temperature"),
    ],
)
def test_impossible_air_is_refused_with_value_and_place(arguments, named):
    with pytest.raises(OutOfRange, match=named) as caught:
        cipm.density(*arguments)
    assert caught.value.place == "value [1]"
    assert caught.value.found


def test_a_wet_bulb_above_the_dry_bulb_is_refused():
    with pytest.raises(OutOfRange, match="wet-bulb depression"):
        air.ambient_density(293.15, 294.15, 1e5)
    with pytest.raises(OutOfRange, match="vapour pressure"):
        air.ambient_density(303.15, 275.15, 1e5)
    with pytest.raises(OutOfRange, match="absolute pressure at the plane"):
        air.plane_density(1.2, 1e5, 293.15, -1e5, 293.15)
