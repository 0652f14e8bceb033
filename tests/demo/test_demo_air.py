"""The invented laboratory's air and nozzles, held against figures from outside."""

import math

import numpy as np
import pytest

from stillroom.core.standards import moist_air_cipm_2007 as cipm
from stillroom.core.standards.ansi_amca_210_2007 import air as amca
from stillroom.core.standards.ansi_amca_210_2007.bank import flow_at_density, nozzle_bank_flow
from stillroom.core.standards.ansi_amca_210_2007.nozzles import LengthRatio
from stillroom.demo.air import Air, Nozzle, expansibility, inlet_flow, nozzle_drop
from stillroom.demo.draws import Draws


@pytest.mark.parametrize(
    ("celsius", "pressure", "humidity", "density"),
    [
        # Picard et al., Metrologia 45 (2008) 149-155 (CIPM-2007), computed with NumPy from its formula;
        # CoolProp 8.0.0 differs by 4e-5
        (20, 101325, 0.0, 1.204557),
        (20, 101325, 0.5, 1.199314),
        (16, 100000, 0.65, 1.199922),
        (23, 98000, 0.4, 1.148191),
        (30, 95000, 0.8, 1.077288),
        (22, 83500, 0.35, 0.981724),
    ],
)
def test_density_of_moist_air(celsius: float, pressure: float, humidity: float, density: float) -> None:
    assert Air(pressure, celsius + 273.15, humidity).density == pytest.approx(density, rel=5e-6)


def test_viscosity() -> None:
    # (17.23 + 0.048 t)·10⁻⁶: AMCA 210-07 eq. 7.6, read in public implementations
    assert Air(1e5, 293.15, 0.5).viscosity == pytest.approx(1.819e-5, rel=1e-9)


@pytest.mark.parametrize(
    ("reynolds", "coefficient"),
    # AMCA 210-07 eq. 7.19 for L/D 0.6, also ISO 5151:2010 B.1; read in public implementations
    [(12000, 0.9458609), (50000, 0.9699602), (200000, 0.9836071)],
)
def test_nozzle_coefficient(reynolds: float, coefficient: float) -> None:
    nozzle, air = Nozzle("N25", 0.025), Air(98_500, 295.0, 0.45)
    velocity = reynolds * air.viscosity / (air.density * coefficient * nozzle.bore)
    found = nozzle.effective_area(velocity, air.density, air.viscosity) / nozzle.area
    assert found == pytest.approx(coefficient, abs=1e-6)


def test_expansibility_tends_to_its_first_order() -> None:
    # Y ≈ 1 − 3/(4γ)·Δp/p for β = 0: the isentropic formula's own series, worked out by hand
    assert expansibility(1e5, 500.0) == pytest.approx(1 - 0.75 / 1.4 * 0.005, abs=1e-5)
    assert expansibility(1e5, 0.0) == 1.0


@pytest.mark.parametrize("flow", [3 / 3600, 20 / 3600, 110 / 3600])
def test_reading_and_flow_are_inverse(flow: float) -> None:
    nozzles, air = (Nozzle("N12", 0.012003), Nozzle("N40", 0.040012)), Air(97_800, 296.2, 0.4)
    drop = nozzle_drop(flow, nozzles, air, 18.0)
    assert inlet_flow(drop, nozzles, air, 18.0) == pytest.approx(flow, rel=1e-10)


def test_draws_are_normal_and_depend_on_seed_and_name_only() -> None:
    first = Draws(1, "a")
    values = [first.normal() for _ in range(4000)]
    again = Draws(1, "a")
    assert [again.normal() for _ in range(5)] == values[:5]
    assert Draws(1, "b").normal() != values[0] != Draws(2, "a").normal()
    mean = sum(values) / len(values)
    assert abs(mean) < 4 / math.sqrt(len(values))
    assert sum((v - mean) ** 2 for v in values) / len(values) == pytest.approx(1.0, abs=0.1)


def test_two_rooms_that_share_no_code_agree_on_a_nozzle_bank() -> None:
    air, drop, gauge, bores = Air(97_400, 296.1, 0.41), 212.0, 23.0, (0.012003, 0.040012)
    barometer, temperature = np.array([[air.pressure]]), np.array([[air.temperature]])
    density = cipm.density(temperature, barometer, np.array([[air.humidity]]))
    upstream = amca.plane_density(density, barometer, temperature, np.array([[gauge]]), temperature)
    bank = nozzle_bank_flow(
        np.array([[drop]]),
        barometer + gauge,
        upstream,
        amca.viscosity(temperature),
        np.array(bores).reshape(2, 1, 1),
        np.ones((2, 1, 1), dtype=bool),
        LengthRatio.L_0_6,
    )
    flow = flow_at_density(bank.flow, upstream, density).item()
    nozzles = tuple(Nozzle(str(bore), bore) for bore in bores)
    assert flow == pytest.approx(inlet_flow(drop, nozzles, air, gauge), rel=1e-9)
