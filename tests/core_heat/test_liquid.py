"""Water against IAPWS-95, glycol against Melinder's polynomials, the heat balance against its closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest
from CoolProp import CoolProp

from stillroom.core.heat.balance import Value, balance, liquid_heat
from stillroom.core.heat.conductance import conductance, delta_at_nominal
from stillroom.core.heat.liquid import CELSIUS, WATER, Liquid, LiquidKind
from stillroom.errors import NotPossible, OutOfRange

ATMOSPHERE = 101_325.0
TEMPERATURES = np.linspace(0.05, 99.4, 60) + CELSIUS


@pytest.mark.parametrize(("name", "of"), [("D", Liquid.density), ("C", Liquid.specific_heat)])
def test_water_within_2e_5_of_iapws_95(name: str, of: object) -> None:
    """CoolProp's IAPWS-95 (Wagner & Pruss, 2002) at 1 atm."""
    expected = [CoolProp.PropsSI(name, "T", t, "P", ATMOSPHERE, "Water") for t in TEMPERATURES]
    assert of(WATER, TEMPERATURES) == pytest.approx(expected, rel=2e-5)  # type: ignore[operator]


def test_water_at_25_degrees_by_the_handbook() -> None:
    """997.05 kg/m³ and 4.1813 kJ/(kg K) at 25 °C: CRC Handbook of Chemistry and Physics (from memory)."""
    assert float(WATER.density(298.15)) == pytest.approx(997.05, abs=0.02)
    assert float(WATER.specific_heat(298.15)) == pytest.approx(4181.3, abs=0.5)


@pytest.mark.parametrize("fraction", [0.05, 0.2, 0.308462, 0.45, 0.6])
def test_glycol_as_melinder_has_it(fraction: float) -> None:
    """CoolProp's MEG, which evaluates Melinder (2010) by code of its own."""
    liquid = Liquid(LiquidKind.GLYCOL, fraction)
    fluid = f"INCOMP::MEG[{fraction}]"
    kelvin = np.linspace(278.15, 363.15, 12)
    density = [CoolProp.PropsSI("D", "T", t, "P", ATMOSPHERE, fluid) for t in kelvin]
    heat = [CoolProp.PropsSI("C", "T", t, "P", ATMOSPHERE, fluid) for t in kelvin]
    assert liquid.density(kelvin) == pytest.approx(density, rel=1e-9)
    assert liquid.specific_heat(kelvin) == pytest.approx(heat, rel=1e-9)
    freezing = CoolProp.PropsSI("T_FREEZE", "T", 300, "P", ATMOSPHERE, fluid)
    assert liquid.freezing == pytest.approx(freezing, abs=1e-3)
    with pytest.raises(OutOfRange, match="temperature of glycol"):
        liquid.density(liquid.freezing - 0.5)


def test_glycol_with_little_in_it_is_near_water() -> None:
    """Two sources meet at nothing dissolved: within 1 % (the polynomials' own error there)."""
    little = Liquid(LiquidKind.GLYCOL, 0.001)
    assert float(little.specific_heat(308.15)) == pytest.approx(float(WATER.specific_heat(308.15)), rel=0.01)
    assert float(little.density(308.15)) == pytest.approx(float(WATER.density(308.15)), rel=0.002)


@pytest.mark.parametrize(
    ("kind", "fraction"), [(LiquidKind.GLYCOL, 0.61), (LiquidKind.GLYCOL, 0.0), (LiquidKind.WATER, 0.3)]
)
def test_what_no_formula_covers_is_refused(kind: LiquidKind, fraction: float) -> None:
    with pytest.raises(OutOfRange, match="mass fraction of glycol"):
        Liquid(kind, fraction)


@pytest.mark.parametrize("kelvin", [272.9, 373.0, math.nan])
def test_water_that_freezes_or_boils_is_refused(kelvin: float) -> None:
    with pytest.raises(OutOfRange, match="temperature of water"):
        WATER.density(kelvin)


def test_names() -> None:
    assert (WATER.words, Liquid(LiquidKind.GLYCOL, 0.3).words) == ("water", "glycol 30 %")


def test_heat_balance_closes_by_hand() -> None:
    """ρ c Q ΔT at 35 °C: 994.03 · 4179.3 · 2.5 l/min · 1.733 K = 300 W, with GUM's sum of squares."""
    flow = Value(2.5e-3 / 60.0, 0.01 * 2.5e-3 / 60.0)
    heat = liquid_heat(flow, Value(309.0165, 0.02), Value(307.2835, 0.02), WATER)
    assert heat.value == pytest.approx(994.03 * 4179.3 * 2.5e-3 / 60.0 * 1.733, rel=1e-4)
    rise = math.hypot(0.02, 0.02) / 1.733
    assert heat.u / heat.value == pytest.approx(math.hypot(0.01, rise, 0.001, 0.0001), rel=1e-3)
    told = balance(heat, Value(296.0, 1.0), Value(4.0, 0.5))
    assert told.ratio == pytest.approx(heat.value / 300.0)
    expected = math.hypot(heat.u, told.ratio * 1.0, told.ratio * 0.5) / 300.0
    assert told.u == pytest.approx(expected)


def test_probes_that_share_errors_tell_the_rise_better() -> None:
    flow, hot, cold = Value(4e-5, 4e-7), Value(309.0, 0.3), Value(307.0, 0.3)
    alone = liquid_heat(flow, hot, cold, WATER)
    together = liquid_heat(flow, hot, cold, WATER, u_rise=0.03)
    assert together.u < alone.u / 5.0
    assert together.value == alone.value


def test_no_heat_put_in_has_no_balance() -> None:
    with pytest.raises(NotPossible, match="heat balance"):
        balance(Value(10.0, 1.0), Value(0.0, 0.1), Value(0.0, 0.0))


def test_power_two_percent_high_makes_a_difference_two_percent_high() -> None:
    assert delta_at_nominal(12.24, 306.0, 300.0) == pytest.approx(12.0)
    assert conductance(300.0, 12.0) == pytest.approx(25.0)
    with pytest.raises(OutOfRange, match="heat load"):
        delta_at_nominal(6.0, 150.0, 300.0)
    with pytest.raises(OutOfRange, match="temperature difference"):
        conductance(300.0, 0.0)
