"""Dimensionless numbers, conversion, compressibility and units."""

from __future__ import annotations

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillroom import vocabulary
from stillroom.core import fanlaws
from stillroom.core.standards.ansi_amca_210_2007 import compressibility
from stillroom.core.standards.limits import Flag
from stillroom.errors import OutOfRange

POSITIVE = st.floats(0.05, 50.0)
CFM, INCH_OF_WATER = vocabulary.unit("CFM").factor, vocabulary.unit("inH2O").factor


def test_tip_speed_and_pressure_coefficient(published):
    published("C074").meets(fanlaws.tip_speed(2400 / 60, 0.12))
    published("C076").meets(fanlaws.pressure_coefficient(40.0, 2400 / 60, 0.12, 1.2))


def test_fan_law_with_size(published):
    figure = published("C064")
    x = figure.inputs
    to = fanlaws.conversion(x["n1"] / 60, 1.2, x["n2"] / 60, 1.2, x["D2"] / x["D1"])
    figure.meets(x["Q1"] * to.flow)


def test_air_power_in_old_units(published):
    published("C070").meets(fanlaws.air_power(CFM, INCH_OF_WATER))


def test_compressibility(published):
    figure = published("C073")
    x = figure.inputs
    figure.meets(compressibility.coefficient(x["Pt_Pa"], x["Q_m3s"], x["H_W"], x["p1_Pa"], x["gamma"]))


@given(st.floats(0.0, 150.0), st.floats(0.005, 0.1), st.floats(0.15, 0.9), st.floats(80e3, 110e3))
def test_compressibility_may_be_taken_as_one_on_a_cooling_bench(pressure, flow, efficiency, p):
    K_p = compressibility.coefficient(pressure, flow, pressure * flow / efficiency, p)
    # x/2 - z/2, to first order
    z = (1.0 - 1.0 / 1.4) * pressure / efficiency / p
    assert float(K_p) == pytest.approx(1.0 - pressure / p / 2.0 + z / 2.0, abs=3e-5)
    if 0.2 < efficiency < 0.45 and pressure < 60.0:
        assert compressibility.validity(K_p) == 0


def test_compressibility_that_is_not_one_is_marked():
    K_p = compressibility.coefficient(2500.0, 0.05, 300.0, 101325.0)
    assert compressibility.validity(K_p) == Flag.COMPRESSIBILITY
    assert compressibility.coefficient(0.0, 0.05, 0.0, 101325.0) == 1.0


@given(POSITIVE, POSITIVE, st.floats(0.05, 0.3), st.floats(0.9, 1.3), POSITIVE)
def test_every_number_has_its_inverse(value, n, D, rho, factor):
    phi = fanlaws.flow_coefficient(value, n, D)
    assert float(fanlaws.flow_from_coefficient(phi, n, D)) == pytest.approx(value, rel=1e-14)
    psi = fanlaws.pressure_coefficient(value, n, D, rho)
    assert float(fanlaws.pressure_from_coefficient(psi, n, D, rho)) == pytest.approx(value, rel=1e-14)
    lam = fanlaws.power_coefficient(value, n, D, rho)
    assert float(fanlaws.power_from_coefficient(lam, n, D, rho)) == pytest.approx(value, rel=1e-14)


@given(POSITIVE, POSITIVE, st.floats(0.05, 0.3), st.floats(0.9, 1.3), POSITIVE, st.floats(0.9, 1.3))
def test_conversion_leaves_the_numbers_as_they_are(value, n, D, rho, n_2, rho_2):
    to = fanlaws.conversion(n, rho, n_2, rho_2, 1.3)
    D_2 = 1.3 * D
    np.testing.assert_allclose(
        fanlaws.flow_coefficient(value * to.flow, n_2, D_2), fanlaws.flow_coefficient(value, n, D), rtol=1e-12
    )
    np.testing.assert_allclose(
        fanlaws.pressure_coefficient(value * to.pressure, n_2, D_2, rho_2),
        fanlaws.pressure_coefficient(value, n, D, rho),
        rtol=1e-12,
    )
    np.testing.assert_allclose(
        fanlaws.power_coefficient(value * to.power, n_2, D_2, rho_2),
        fanlaws.power_coefficient(value, n, D, rho),
        rtol=1e-12,
    )


@given(POSITIVE, POSITIVE, POSITIVE, st.floats(0.05, 0.3), st.floats(0.9, 1.3))
def test_numbers_agree_on_efficiency(Q, p, n, D, rho):
    P = 7.0
    phi, psi = fanlaws.flow_coefficient(Q, n, D), fanlaws.pressure_coefficient(p, n, D, rho)
    lam = fanlaws.power_coefficient(P, n, D, rho)
    assert float(phi * psi / lam) == pytest.approx(float(fanlaws.static_efficiency(Q, p, P)), rel=1e-12)


def test_definitions_written_out():
    n, D, rho, mu = 20.0, 0.12, 1.18, 1.82e-5
    u = np.pi * D * n
    A = np.pi * D**2 / 4
    assert float(fanlaws.flow_coefficient(0.03, n, D)) == pytest.approx(0.03 / (A * u), rel=1e-14)
    assert float(fanlaws.power_coefficient(1.3, n, D, rho)) == pytest.approx(
        1.3 / (0.5 * rho * A * u**3), rel=1e-14
    )
    assert float(fanlaws.reynolds(n, D, rho, mu)) == pytest.approx(u * D * rho / mu, rel=1e-14)


def test_wide_conversions_are_marked():
    to = fanlaws.conversion([20.0, 19.0, 20.0], [1.2, 1.2, 1.1], 20.0)
    assert to.flags.tolist() == [0, Flag.SPEED_CORRECTION, Flag.DENSITY_CORRECTION]


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: fanlaws.flow_coefficient(0.01, [20.0, 0.0], 0.12), "speed"),
        (lambda: fanlaws.pressure_coefficient(1.0, 20.0, 0.12, [1.2, -1.2]), "density"),
        (lambda: fanlaws.static_efficiency(0.01, 3.0, [1.0, 0.0]), "power"),
        (lambda: fanlaws.flow_coefficient([0.1, np.nan], 20.0, 0.12), "flow"),
        (lambda: fanlaws.conversion([20.0, -20.0], 1.2, 20.0), "speed"),
        (lambda: compressibility.coefficient(10.0, [0.1, 0.0], 1.0, 1e5), "flow"),
        (lambda: compressibility.coefficient([10.0, -2e5], 0.1, 1.0, 1e5), "pressure"),
    ],
)
def test_impossible_fans_are_refused_with_their_place(call, named):
    with pytest.raises(OutOfRange, match=named) as caught:
        call()
    assert caught.value.place == "value [1]"


UNITS = pint.UnitRegistry()
IN_PINT = {
    "m³/s": "m**3/s", "m³/h": "m**3/hour", "l/s": "liter/s", "l/min": "liter/minute", "CFM": "foot**3/minute",
    "Pa": "pascal", "hPa": "hectopascal",
    "kPa": "kilopascal", "bar": "bar", "mmHg": "mmHg", "inHg": "inch_Hg",
    "rpm": "rpm", "1/s": "turn/s", "V": "volt", "mV": "millivolt", "A": "ampere", "mA": "milliampere",
    "W": "watt", "m": "m", "mm": "mm", "cm": "cm", "in": "inch", "s": "s", "min": "minute", "h": "hour",
    "d": "day", "kg/m³": "kg/m**3", "ms": "millisecond", "kW": "kilowatt", "l/h": "liter/hour",
    "ml/min": "milliliter/minute", "W/K": "watt/kelvin", "K/W": "kelvin/watt",
}  # fmt: skip
BASE = {"flow": "m**3/s", "pressure": "pascal", "speed": "turn/s", "voltage": "volt", "current": "ampere",
        "power": "watt", "length": "m", "time": "s", "density": "kg/m**3", "conductance": "watt/kelvin",
        "thermal resistance": "kelvin/watt"}  # fmt: skip


@pytest.mark.parametrize("symbol", IN_PINT)
def test_units_agree_with_pint(symbol):
    unit = vocabulary.unit(symbol)
    second = UNITS.Quantity(1.0, IN_PINT[symbol]).to(BASE[unit.dimension]).magnitude
    assert unit.factor == pytest.approx(second, rel=2e-7)  # the mercury columns are rounded to 7 digits
    if not symbol.endswith("Hg"):
        assert unit.factor == pytest.approx(second, rel=1e-14)


@given(st.floats(-40.0, 200.0))
def test_temperatures_agree_with_pint(value):
    for symbol, name in (("°C", "degC"), ("°F", "degF"), ("K", "kelvin")):
        second = UNITS.Quantity(value, name).to("kelvin").magnitude
        assert vocabulary.to_si(value, symbol) == pytest.approx(second, abs=1e-10)
        assert vocabulary.from_si(vocabulary.to_si(value, symbol), symbol) == pytest.approx(value, abs=1e-10)


def test_units_against_published_factors(published):
    published("C084").meets(CFM / vocabulary.unit("m³/h").factor)
    published("C085").meets(vocabulary.from_si(vocabulary.to_si(100.0, "CFM"), "m³/h"))
    published("C086").meets(vocabulary.to_si(1.0, "mmH2O"))
    published("C091").meets(vocabulary.to_si(1.0, "inHg"))
    published("C096").meets(vocabulary.to_si(1.0, "inHg"))
    published("C093").meets(vocabulary.from_si(vocabulary.to_si(5.0, "mmH2O"), "inH2O"))
    # real water columns are lighter than the conventional one: 3e-5 at 4 °C, 1e-3 at 60 °F
    assert published("C089").expected == pytest.approx(INCH_OF_WATER, rel=4e-5)
    assert published("C090").expected == pytest.approx(INCH_OF_WATER, rel=1.1e-3)
    # standard air in the old units and in SI differ by 0.12 %
    assert published("C094").expected == pytest.approx(fanlaws.STANDARD_DENSITY, rel=1.2e-3)
