"""From readings to points: the standards' figures through the whole chain of a rig, and the effects of its errors."""

from __future__ import annotations

import numpy as np
import pytest

from stillroom.errors import BadInput, UnknownThing
from stillroom.methods.airflow.bench import Bench
from stillroom.methods.airflow.chain import RECTANGULAR, Chain
from stillroom.methods.airflow.points import FORMULA, VOLTAGE_AS_SET, Sweep, reduce_sweep
from stillroom.records.bench import Calibration, Instrument, Nozzle, Rig

NOZZLES = {
    "N20": Nozzle(nozzle="N20", bore=0.02, bore_u=1e-5, length_ratio=0.6),
    "N30": Nozzle(nozzle="N30", bore=0.03, bore_u=1e-5, length_ratio=0.6),
    "N50": Nozzle(nozzle="N50", bore=0.05, bore_u=1e-5, length_ratio=0.6),
}
RIG = Rig(rig="chamber", nozzles=tuple(NOZZLES))
EXACT = {name: Chain(name) for name in ("nozzle_pressure", "static_pressure", "barometric_pressure",
                                        "temperature", "relative_humidity", "speed")}  # fmt: skip


def bench(**chains: Chain) -> Bench:
    return Bench.of(RIG, EXACT | chains, NOZZLES, None)


def sweep(*nozzles: tuple[str, ...], dp: float = 300.0, ps: float = 0.0) -> Sweep:
    n = len(nozzles)
    return Sweep(
        "run",
        {
            "nozzle_pressure": np.full(n, dp),
            "static_pressure": np.full(n, ps),
            "barometric_pressure": np.full(n, 101_325.0),
            "temperature": np.full(n, 293.15),
            "relative_humidity": np.full(n, 0.5),
            "speed": np.full(n, 25.0),
        },
        nozzles,
    )


def test_one_nozzle_and_a_bank_of_three() -> None:
    """ANSI/AMCA 210-07 eq. 7.14-7.22 as computed apart: check values C050 and C051, m³/s."""
    points = reduce_sweep(sweep(("N30",), ("N20", "N30", "N50")), bench())
    assert points.rows["flow"][0, 0] == pytest.approx(0.015277990440888916, rel=1e-8)
    assert points.rows["flow"][0, 1] == pytest.approx(0.06474691041262573, rel=1e-8)
    assert points.rows["density"][0, 0] == pytest.approx(1.199314, rel=5e-6)  # CIPM-2007, check value C002


def test_no_nozzle_open_is_no_flow() -> None:
    points = reduce_sweep(sweep((), ("N30",)), bench())
    assert points.rows["flow"][0, 0] == 0.0


def test_flow_is_at_the_inlet() -> None:
    """In an outlet chamber the air before the nozzles is denser by (p_b + p_s)/p_b: eq. 7.3."""
    low, high = (reduce_sweep(sweep(("N30",), ps=p), bench()).rows["flow"][0, 0] for p in (0.0, 200.0))
    # Q₁ = Q₅ ρ₅/ρ₁ and Q₅ ~ ρ₅^-½, so Q₁ grows by about half the relative pressure (C nearly constant).
    assert high / low - 1 == pytest.approx(0.5 * 200 / 101_325, rel=0.05)


def test_a_calibration_is_taken_off() -> None:
    chain = Chain("gauge", offset=0.5, gain=1.01)
    assert chain.true(np.array([101.5])) == pytest.approx([100.0])


def test_the_effect_of_each_source_is_that_of_one_standard_deviation() -> None:
    gauge = Chain("gauge", offset_u=0.3, gain_u=0.002, linearity=((0.0, 1000.0, 0.4),))
    points = reduce_sweep(sweep(("N30",)), bench(nozzle_pressure=gauge))
    flow = points.rows["flow"][0, 0]
    effects = dict(zip(points.sources, points.shared("flow")[:, 0] / flow, strict=True))
    # Q ~ √Δp (and C rises slightly with Re): a relative error of Δp counts a little more than half.
    assert abs(effects["instrument/gauge/offset"]) == pytest.approx(0.5 * 0.3 / 300, rel=0.02)
    assert abs(effects["instrument/gauge/gain"]) == pytest.approx(0.5 * 0.002, rel=0.02)
    assert abs(effects["instrument/gauge/linearity/0"]) == pytest.approx(0.5 * 0.4 / 300, rel=0.02)
    # Q ~ d²; the formula's expanded uncertainty is 1.2 % (from memory), so one standard deviation is 0.6 %.
    assert effects["nozzle/N30/bore"] == pytest.approx(2 * 1e-5 / 0.03, rel=0.03)
    assert abs(effects[FORMULA]) == pytest.approx(0.006, rel=0.02)


def test_a_line_of_accuracy_is_rectangular() -> None:
    """JCGM 100:2008, 4.3.7: limits ± a have u = a/√3."""
    rig = Rig(rig="duct", arrangement="flow and pressure only")
    simple = Bench.of(rig, {}, {}, (0.03, 0.0))
    told = {"flow": np.array([0.02]), "static_pressure": np.array([10.0]), "speed": np.array([20.0])}
    points = reduce_sweep(Sweep("run", told), simple)
    effects = dict(zip(points.sources, points.shared("flow")[:, 0], strict=True))
    assert abs(effects["instrument/duct/flow/gain"]) == pytest.approx(0.02 * 0.03 * RECTANGULAR, rel=1e-9)
    assert "air not recorded" in points.marks


def test_a_calibration_stands_in_for_the_line_of_accuracy() -> None:
    gauge = Instrument(instrument="g", quantity="static_pressure", accuracy_relative=0.05)
    assert Chain.of(gauge, None).relative == 0.05
    assert Chain.of(gauge, Calibration(instrument="g", date="2026-01-01", gain=1.0)).relative == 0.0


def test_unknown_nozzles_and_arrangements_are_named() -> None:
    with pytest.raises(UnknownThing, match="N99"):
        reduce_sweep(sweep(("N99",)), bench())
    with pytest.raises(BadInput, match="outlet chamber"):
        Bench.of(Rig(rig="r", arrangement="wind tunnel"), {}, {}, None)


def test_untold_accuracy_is_wide_and_marked() -> None:
    points = reduce_sweep(
        Sweep("r", {"flow": np.array([0.02]), "static_pressure": np.array([9.0]), "speed": np.array([20.0])}),
        Bench.of(Rig(rig="new"), {}, {}, None),
    )
    assert any("not told" in mark for mark in points.marks)


def test_beyond_its_calibration_an_instrument_is_less_sure_not_more() -> None:
    """The last range's limit grows with the reading; before, such a reading had no linearity error at all."""
    gauge = Chain("gauge", linearity=((0.0, 25.0, 0.1), (25.0, 100.0, 0.4)))
    readings = np.array([-1.0, 10.0, 25.0, 99.0, 100.0, 150.0])
    effects = dict(gauge.shared(readings))
    assert effects["instrument/gauge/linearity/0"] == pytest.approx([-0.1, -0.1, 0.0, 0.0, 0.0, 0.0])
    assert effects["instrument/gauge/linearity/25"] == pytest.approx([0.0, 0.0, -0.4, -0.4, -0.4, -0.6])
    assert gauge.reach == (0.0, 100.0)
    assert Chain("gauge").reach == (-np.inf, np.inf)


def test_the_voltage_that_was_set_makes_power_of_amps() -> None:
    one = sweep(("N30",), ("N30",))
    amps = {"current": np.array([0.2, 0.4])}
    exact = bench(current=Chain("ammeter"), voltage=Chain("voltmeter"))
    told = reduce_sweep(Sweep("run", {**one.columns, **amps}, one.nozzles, supply=7.0), exact)
    assert told.rows["power"][0] == pytest.approx([1.4, 2.8])
    assert VOLTAGE_AS_SET in told.marks
    (source,) = [each for each in told.sources if "as set" in each]
    effect = told.shared("power")[told.sources.index(source)]
    assert abs(effect) == pytest.approx(0.02 * RECTANGULAR * told.rows["power"][0])
    assert "power" not in reduce_sweep(Sweep("run", {**one.columns, **amps}, one.nozzles), exact).rows
    read = {**one.columns, **amps, "voltage": np.array([6.9, 6.8])}
    metered = reduce_sweep(Sweep("run", read, one.nozzles, supply=7.0), exact)
    assert metered.rows["power"][0] == pytest.approx([1.38, 2.72])
    assert VOLTAGE_AS_SET not in metered.marks
