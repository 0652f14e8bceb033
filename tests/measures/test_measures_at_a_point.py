"""Measures at an operating point and over load lines, against formulas and brute force on a known fan."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from stillroom.core.characteristic import Readings, fit_characteristic
from stillroom.core.draws import normal_block
from stillroom.core.mounted import Hysteresis, MountedFan, fit_polynomial, power_design
from stillroom.core.room_air import STANDARD_VISCOSITY, room_air
from stillroom.core.speeds import SettingReadings, fit_settings
from stillroom.core.systems import Load, StatedResistance, System
from stillroom.errors import Contradiction, NotPossible
from stillroom.measures import MEASURES, Condition, Origin, evaluate, measure_named
from stillroom.measures.branches import branch_points
from stillroom.measures.loadline import LINES
from stillroom.measures.value import MeasuredValue
from stillroom.records.settings import MARGINS
from stillroom.vocabulary import BY_NAME

D, N, TRIALS = 0.12, 25.0, 600
TIP, AREA = math.pi * D * N, math.pi * D**2 / 4
DEPTH, DEEP, PLACE, WIDTH = 0.05, 0.13, 0.085, 0.012
PHI = np.linspace(0.0, 0.22, 45)


def psi(phi: np.ndarray | float, depth: float) -> np.ndarray | float:
    return 0.30 * (1 - (phi / 0.20) ** 2) - depth * np.exp(-(((phi - PLACE) / WIDTH) ** 2))


def sag(phi: np.ndarray | float, speed: float = N) -> np.ndarray | float:
    """Speed at a setting: slower by 5 % from shut-off to φ = 0.2 [1/s]."""
    return speed * (1 - 0.25 * phi)


def power(speed: float, phi: float) -> float:
    """Electrical power: W of air and motor at n and φ."""
    return 1.4 * (speed / 30.0) ** 3 * (0.7 + 2.0 * phi - 4.0 * phi**2) + 0.2 * speed / 30.0 + 0.05


def fan(depth: float = 0.0, own: float = 1e-6, hysteresis: Hysteresis | None = None) -> MountedFan:
    phi = np.tile(PHI, 4)
    n = len(phi)
    speeds = np.repeat(np.array([10.0, 16.0, 23.0, 30.0]), len(PHI))
    readings = Readings(
        flow_coefficient=phi,
        pressure_coefficient=np.asarray(psi(phi, depth)),
        reynolds=speeds * np.pi * D**2 * 1.2 / STANDARD_VISCOSITY,
        sweep=np.repeat(np.arange(4), len(PHI)).astype(np.intp),
        shared_flow=np.array([0.005 * phi]),
        shared_pressure=np.zeros((1, n)),
        own_flow=np.full(n, own),
        own_pressure=np.full(n, own),
        own_covariance=np.zeros(n),
        sources=("instrument/nozzle gauge/gain",),
        identity=f"fan-{depth}-{own}",
    )
    full = fit_polynomial(
        np.stack([np.ones_like(PHI), PHI, PHI**2], axis=1), np.asarray(sag(PHI, 30.0)),
        shared=np.zeros((0, len(PHI))), own=np.zeros(len(PHI)), draws=np.zeros((len(PHI), TRIALS)), sources=(),
    )  # fmt: skip
    design = power_design(speeds, phi, 1.0, 30.0)
    taken = np.array([power(s, p) for s, p in zip(speeds, phi, strict=True)])
    watts = fit_polynomial(np.stack(design, axis=1), taken, shared=np.zeros((0, n)), own=np.zeros(n),
                           draws=normal_block("power", n, TRIALS), sources=())  # fmt: skip
    duty = fit_settings("duty", [
        SettingReadings("duty", each, PHI, np.asarray(sag(PHI, 30.0 * each)), {}, np.zeros(len(PHI)))
        for each in (0.4, 0.6, 0.8, 1.0)
    ], "fan")  # fmt: skip
    return MountedFan(
        fit_characteristic(readings, TRIALS), D, (10.0, 30.0), full, watts, 5, (duty,), hysteresis
    )


SOUND, DIPPED = fan(), fan(DEPTH)
K = 2.0e5
LOAD = Load(((StatedResistance("k", 0.0, K),),))


def take(name: str, of: MountedFan = SOUND, load: Load | None = LOAD, **told: object) -> MeasuredValue:
    return evaluate(measure_named(name), of, load, Condition(**({"speed": N} | told)))  # type: ignore[arg-type]


def pressure(phi: float, speed: float, depth: float = 0.0) -> float:
    return float(psi(phi, depth)) * 0.6 * (math.pi * D * speed) ** 2


def flow(phi: float, speed: float) -> float:
    return phi * AREA * math.pi * D * speed


def place(k: float = K, speed: float = N) -> float:
    """φ of the operating point on Δp = kQ², by brentq on the made law."""
    return float(brentq(lambda x: pressure(x, speed) - k * flow(x, speed) ** 2, 1e-6, 0.2))


def test_flow_pressure_speed_power_and_efficiency_at_the_operating_point() -> None:
    phi = place()
    q, p, w = flow(phi, N), pressure(phi, N), power(N, phi)
    assert take("airflow").value == pytest.approx(q, rel=1e-3)
    assert take("pressure-at").value == pytest.approx(p, rel=2e-3)
    assert take("pressure-at").value == pytest.approx(K * take("airflow").value ** 2, rel=1e-3)
    assert take("speed-at").value == pytest.approx(N)
    assert take("power-at").value == pytest.approx(w, rel=1e-3)
    assert take("efficiency-at").value == pytest.approx(q * p / w, rel=3e-3)


def test_at_a_setting_the_speed_at_the_operating_point_is_the_one_measured_there() -> None:
    phi = brentq(lambda x: pressure(x, sag(x, 30.0)) - K * flow(x, sag(x, 30.0)) ** 2, 1e-6, 0.2)
    for condition in ({"speed": None}, {"speed": None, "duty": 1.0}):
        assert take("speed-at", **condition).value == pytest.approx(float(sag(phi, 30.0)), rel=1e-4)
        assert take("airflow", **condition).value == pytest.approx(flow(phi, float(sag(phi, 30.0))), rel=1e-3)


def test_at_a_duty_between_two_the_speed_is_interpolated_and_says_so() -> None:
    found = take("airflow", speed=None, duty=0.7)
    phi = brentq(lambda x: pressure(x, sag(x, 21.0)) - K * flow(x, sag(x, 21.0)) ** 2, 1e-6, 0.2)
    assert found.value == pytest.approx(flow(phi, float(sag(phi, 21.0))), rel=2e-3)
    assert found.marks == ("interpolated between 60 % and 80 %",)
    assert take("airflow", speed=None, duty=0.6).marks == ()
    with pytest.raises(NotPossible, match="tested from 40 % to 100 %"):
        take("airflow", speed=None, duty=0.3)
    with pytest.raises(NotPossible, match="no sweep with a voltage"):
        take("airflow", speed=None, volts=7.0)


def test_two_settings_at_once_contradict() -> None:
    with pytest.raises(Contradiction, match="speed and duty"):
        Condition(speed=20.0, duty=0.5)


def test_pressure_to_spare_is_what_the_falling_branch_still_holds() -> None:
    phi = place()
    assert take("pressure-to-spare").value == pytest.approx(pressure(0.0, N) - pressure(phi, N), rel=5e-3)
    stall = np.linspace(0.0, 0.2, 20001)  # with a dip the branch ends at the crest behind it
    dipped = np.array([pressure(x, N, DEPTH) for x in stall])
    here = int(np.flatnonzero(dipped > K * flow(1.0, N) ** 2 * stall**2)[-1])
    crest = here
    while dipped[crest - 1] >= dipped[crest]:
        crest -= 1
    assert take("pressure-to-spare", DIPPED).value == pytest.approx(
        dipped[crest] - dipped[here], rel=0.03, abs=0.1
    )


def test_load_lines_run_from_open_to_restrictive() -> None:
    assert len(LINES) == 21
    assert LINES[0] / 3600**2 == pytest.approx(1e-4)
    assert LINES[-1] / 3600**2 == pytest.approx(3e-2)
    assert np.diff(np.log(LINES)) == pytest.approx(math.log(300.0) / 20)


@pytest.mark.parametrize(
    ("name", "lines"),
    [("load-line", slice(0, 21)), ("load-line-open", slice(0, 7)), ("load-line-restrictive", slice(14, 21))],
)
def test_load_line_mean_is_the_geometric_mean_of_the_crossings(name: str, lines: slice) -> None:
    crossings = [flow(place(k), N) for k in LINES[lines]]
    expected = math.exp(sum(math.log(q) for q in crossings) / len(crossings))
    assert take(name, load=None).value == pytest.approx(expected, rel=1e-3)
    assert take(name, load=None).unique


def test_load_line_mean_of_a_parabola_in_closed_form() -> None:
    """Q = Q_max/√(1 + k Q_max²/P₀) on p = P₀(1 − (Q/Q_max)²)."""
    p_0, q_max = pressure(0.0, N), flow(0.20, N)
    crossings = q_max / np.sqrt(1 + LINES * q_max**2 / p_0)
    assert take("load-line", load=None).value == pytest.approx(
        float(np.exp(np.log(crossings).mean())), rel=1e-3
    )


def test_a_deep_dip_makes_the_load_line_mean_a_range() -> None:
    deep = fan(DEEP)
    found = take("load-line", deep, None)
    lows, highs = [], []
    fine = np.linspace(1e-4, 0.2, 40001)
    for k in LINES:
        surplus = np.asarray(psi(fine, DEEP)) * 0.6 * TIP**2 - k * (fine * AREA * TIP) ** 2
        roots = fine[:-1][(surplus[:-1] > 0) != (surplus[1:] > 0)]
        lows.append(math.log(flow(float(roots[0]), N)))
        highs.append(math.log(flow(float(roots[-1]), N)))
    assert not found.unique
    assert found.high == pytest.approx(math.exp(np.mean(highs)), rel=0.01)
    assert found.low == pytest.approx(math.exp(np.mean(lows)), rel=0.01)


def test_every_measure_says_what_it_is() -> None:
    for each in MEASURES:
        assert each.quantity in BY_NAME
        assert each.definition.endswith(".")
        assert each.claim
        assert each.name in MARGINS


OF_CURVES = tuple(each for each in MEASURES if each.origin is Origin.CURVE)


@pytest.mark.parametrize("measure", [each.name for each in OF_CURVES])
def test_every_measure_is_sampled_and_takes_a_system(measure: str) -> None:
    one = take(measure)
    assert one.shared.shape == one.noise.shape == (TRIALS,)
    assert np.all(np.isfinite(one.shared + one.noise))
    system = System(beside=3, tiles=3.0, altitude=1200.0)
    found = take(measure, system=system)
    assert "modelled for 3 fans side by side" in found.marks
    assert f"modelled for ρ = {room_air(1200.0, None).density:.3g} kg/m³" in found.marks


def test_three_fans_on_three_pieces_are_three_times_one_in_all_measures() -> None:
    factor = {"flow": 3.0, "power": 3.0, "air_power": 3.0}
    for each in OF_CURVES:
        one, three = take(each.name), take(each.name, system=System(beside=3, tiles=3.0))
        assert three.value == pytest.approx(one.value * factor.get(each.quantity, 1.0), rel=1e-9), each.name


def test_push_pull_is_marked_with_its_stated_factor() -> None:
    found = take("airflow", system=System(push_pull=0.85, push_pull_u=0.03 / 3**0.5))
    assert "push–pull factor 0.85 ± 0.03 stated" in found.marks
    assert found.loadings["stated/push-pull factor"] > 0.0
    assert found.shared.std() > take("airflow", system=System(push_pull=0.85)).shared.std()


def test_all_points_of_a_deep_dip_are_given_with_their_errors() -> None:
    deep = fan(DEEP, own=2e-4)
    fine = np.linspace(1e-3, 0.2, 40001)
    k = pressure(0.095, N, DEEP) / flow(0.095, N) ** 2  # through the flank of the dip
    surplus = np.asarray(psi(fine, DEEP)) * 0.6 * TIP**2 - k * (fine * AREA * TIP) ** 2
    roots = fine[:-1][(surplus[:-1] > 0) != (surplus[1:] > 0)][::-1]
    assert len(roots) == 3
    load = Load(((StatedResistance("k", 0.0, k),),))
    points = branch_points(deep, load, Condition(speed=N))
    assert [each.stable for each in points] == [True, False, True]
    for point, root in zip(points, roots, strict=True):
        assert point.taken["flow"].value == pytest.approx(flow(float(root), N), rel=0.01)
        assert point.taken["pressure"].value == pytest.approx(pressure(float(root), N, DEEP), rel=0.02)
        assert point.taken["power"].value == pytest.approx(power(N, float(root)), rel=0.01)
        spread = np.std(point.taken["flow"].shared + point.taken["flow"].noise)
        assert 0.0 < spread < 0.05 * point.taken["flow"].value
    assert branch_points(SOUND, load, Condition(speed=N)) == ()


def test_hysteresis_makes_the_airflow_a_range_where_it_is_and_nowhere_else() -> None:
    """Up and down differ by ± 0.02 in ψ about φ = 0.10: the roots of the two curves, by brentq."""
    at = np.linspace(0.0, 0.2, 201)
    half = np.where(np.abs(at - 0.10) < 0.02, 0.02, 0.0)
    told = fan(hysteresis=Hysteresis(at, half))
    k = pressure(0.10, N) / flow(0.10, N) ** 2
    found = evaluate(
        measure_named("airflow"), told, Load(((StatedResistance("k", 0.0, k),),)), Condition(speed=N)
    )
    ends = [
        brentq(lambda x, s=s: pressure(x, N) + s * 0.02 * 0.6 * TIP**2 - k * flow(x, N) ** 2, 0.05, 0.15)
        for s in (-1.0, 1.0)
    ]
    assert found.marks == ("not unique", "sweeps up and down differ")
    assert (found.low, found.high) == pytest.approx([flow(each, N) for each in ends], rel=3e-3)
    elsewhere = evaluate(
        measure_named("airflow"), told, Load(((StatedResistance("k", 0.0, K / 20),),)), Condition(speed=N)
    )
    assert elsewhere.marks == ()


def test_hysteresis_reaches_the_load_line_mean() -> None:
    at = np.linspace(0.0, 0.2, 201)
    told = fan(hysteresis=Hysteresis(at, np.where(np.abs(at - 0.10) < 0.02, 0.02, 0.0)))
    found = take("load-line", told, None)
    assert "sweeps up and down differ" in found.marks
    assert found.low < found.value < found.high
    assert take("load-line-open", told, None).marks == ()


def test_thin_air_below_the_reynolds_numbers_tested_is_marked() -> None:
    assert (
        "below the Reynolds numbers tested"
        in take("airflow", speed=10.0, system=System(altitude=3000.0)).marks
    )
    assert (
        "below the Reynolds numbers tested"
        not in take("airflow", speed=25.0, system=System(altitude=3000.0)).marks
    )
    assert take("airflow", speed=10.0).marks == ()
