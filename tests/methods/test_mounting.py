"""From sweeps to a mounted fan: speeds by setting, several sweeps at one setting, sweeps up and down."""

from __future__ import annotations

import math

import numpy as np
import pytest

from stillroom.core.characteristic import Part
from stillroom.core.mounted import MountedFan
from stillroom.core.systems import Load, StatedResistance
from stillroom.errors import NotPossible
from stillroom.measures import Condition, evaluate, measure_named
from stillroom.methods.airflow.bench import Bench
from stillroom.methods.airflow.chain import Chain
from stillroom.methods.airflow.kept import fan_of, fan_parts
from stillroom.methods.airflow.mounting import SweepOfMounting, reduce_mounting
from stillroom.methods.airflow.points import Sweep, reduce_sweep
from stillroom.records.bench import Rig

D, TRIALS = 0.12, 500
PLACES = np.linspace(0.0, 0.215, 14)
FULL = 30.0
CHAINS = {
    "flow": Chain("flow", gain_u=0.01, noise_relative=0.002),
    "static_pressure": Chain("pressure", offset_u=0.05, noise_relative=0.002, noise_absolute=0.02),
    "speed": Chain("tacho", gain_u=0.001, noise_relative=0.0005),
    "barometric_pressure": Chain("barometer"),
    "temperature": Chain("thermometer"),
    "relative_humidity": Chain("hygrometer"),
}
BENCH = Bench.of(Rig(rig="duct"), CHAINS, {}, None)


def psi(phi: np.ndarray, dip: float) -> np.ndarray:
    return 0.30 * (1 - (phi / 0.22) ** 2) - dip * np.exp(-(((phi - 0.09) / 0.02) ** 2))


def speed_at(duty: float, phi: np.ndarray | float) -> np.ndarray | float:
    """Speed of the made fan [1/s]: falls by 4 % from shut-off to free delivery at each duty."""
    return (6.0 + (FULL - 6.0) * (duty - 0.1) / 0.9) * (1.0 - 0.18 * phi)


def swept(
    duty: float,
    direction: str = "",
    dip: float = 0.02,
    *,
    kind: str = "duty",
    seed: int = 0,
    speed: bool = True,
) -> SweepOfMounting:
    """One sweep of readings with noise, at a duty (or the voltage 12 · duty)."""
    random = np.random.default_rng([seed, int(1000 * duty), direction == "down"])
    phi = PLACES + 0.004 * random.uniform(-1, 1, len(PLACES)) * (PLACES > 0)
    n = np.asarray(speed_at(duty, phi))
    tip = math.pi * D * n
    columns = {
        "flow": phi * math.pi * D**2 / 4 * tip * (1 + 0.002 * random.normal(size=len(phi))),
        "static_pressure": psi(phi, dip) * 0.6 * tip**2 * (1 + 0.002 * random.normal(size=len(phi))),
        "barometric_pressure": np.full(len(phi), 101_380.0),
        "temperature": np.full(len(phi), 293.15),
        "relative_humidity": np.full(len(phi), 0.5),
    }
    if speed:
        columns["speed"] = n * (1 + 0.0005 * random.normal(size=len(phi)))
    name = f"run-{kind}-{duty}-{direction}-{seed}"
    points = reduce_sweep(Sweep(name, columns), BENCH)
    return SweepOfMounting(points, duty if kind == "duty" else 12 * duty, kind, direction)


def reduced(*sweeps: SweepOfMounting, full: float | None = None) -> MountedFan:
    return reduce_mounting(sweeps, diameter=D, identity="made-1", trials=TRIALS, full_setting=full)


DUTIES = (0.3, 0.5, 0.7, 1.0)


@pytest.fixture(scope="module")
def fan() -> MountedFan:
    return reduced(*(swept(each) for each in DUTIES))


def test_the_speed_of_each_setting_is_kept_as_it_was_read(fan: MountedFan) -> None:
    (told,) = fan.settings
    assert told.kind == "duty"
    assert told.values.tolist() == list(DUTIES)
    for duty in (0.3, 0.5, 0.6, 0.85, 1.0):
        curve = fan.curve(None, Part.TOTAL, fan.characteristic.sources, duty=duty)
        middle = slice(0, 340)
        assert curve.speed[0, middle] == pytest.approx(speed_at(duty, curve.phi[middle]), rel=4e-3)
        spread = curve.speed[1 + len(fan.characteristic.sources) :, 200].std() / curve.speed[0, 200]
        assert 5e-4 < spread < 0.02  # at least the tachometer's gain


def test_the_greatest_duty_is_full_setting(fan: MountedFan) -> None:
    sources = fan.characteristic.sources
    full, told = fan.curve(None, Part.CENTRAL, sources), fan.curve(None, Part.CENTRAL, sources, duty=1.0)
    assert told.speed[0] == pytest.approx(full.speed[0], rel=1e-9)
    assert fan.setting_words(0.6, None) == "interpolated between 50 % and 70 %"
    assert fan.setting_words(0.5, None) == ""


def test_voltages_are_told_apart_from_duties() -> None:
    fan = reduced(*(swept(each, kind="volts") for each in DUTIES), full=12.0)
    (told,) = fan.settings
    assert told.kind == "volts"
    assert fan.full_speed is not None
    curve = fan.curve(None, Part.CENTRAL, fan.characteristic.sources, volts=7.2)
    assert curve.speed[0, :300] == pytest.approx(speed_at(0.6, curve.phi[:300]), rel=4e-3)
    with pytest.raises(NotPossible, match="duty 50 %: found no sweep with a duty"):
        fan.curve(None, Part.CENTRAL, (), duty=0.5)


def test_a_mounting_with_both_has_its_full_setting_by_duty() -> None:
    fan = reduced(*(swept(each) for each in DUTIES), swept(0.5, kind="volts", seed=3), full=1.0)
    assert [each.kind for each in fan.settings] == ["duty", "volts"]
    assert fan.full_speed is not None
    assert fan.full_speed.central[0] == pytest.approx(float(speed_at(1.0, 0.0)), rel=3e-3)


def test_sweeps_whose_speed_nobody_read_give_no_speed_by_setting() -> None:
    fan = reduced(swept(1.0, speed=False))
    assert fan.settings == ()
    assert fan.full_speed is not None


def test_two_sweeps_at_full_setting_count_together() -> None:
    up, down = swept(1.0, "up", seed=1), swept(1.0, "down", seed=2)
    both = reduced(*(swept(each) for each in DUTIES[:3]), up, down)
    assert both.full_speed is not None
    alone = [reduced(*(swept(each) for each in DUTIES[:3]), one).full_speed for one in (up, down)]
    assert all(each is not None for each in alone)
    mean = np.mean([each.central[0] for each in alone if each is not None])
    assert both.full_speed.central[0] == pytest.approx(mean, rel=2e-4)
    assert both.hysteresis is None  # they agree


def test_sweeps_up_and_down_that_differ_in_stall_are_averaged_and_the_airflow_there_is_a_range() -> None:
    """The dip is deeper on the way up: half of what they differ by stands where the dip is, nowhere else."""
    sweeps = [swept(each, way, dip) for each in DUTIES for way, dip in (("up", 0.034), ("down", 0.016))]
    fan = reduced(*sweeps)
    assert fan.hysteresis is not None
    told = fan.hysteresis
    dip = np.interp(0.09, told.phi, told.half)
    assert dip == pytest.approx(-0.009, rel=0.4)  # up less down, halved: (0.016 − 0.034)/2
    assert np.all(told.half[told.phi > 0.15] == 0.0)
    assert np.all(told.half[told.phi < 0.03] == 0.0)
    tip = math.pi * D * 20.0
    through = [
        psi(np.array(at), 0.025) * 0.6 * tip**2 / (at * math.pi * D**2 / 4 * tip) ** 2 for at in (0.09, 0.19)
    ]
    stalled, sound = (
        evaluate(
            measure_named("airflow"), fan, Load(((StatedResistance("k", 0.0, float(k)),),)), Condition(20.0)
        )
        for k in through
    )
    assert "sweeps up and down differ" in stalled.marks
    assert stalled.low < stalled.value < stalled.high
    ends = [at * math.pi * D**2 / 4 * tip for at in _roots(through[0])]
    assert (stalled.low, stalled.high) == pytest.approx(ends, rel=0.02)
    assert sound.marks == ()


def _roots(k: float) -> list[float]:
    """φ at which the curve of the way up, and of the way down, meets Δp = kQ²."""
    fine = np.linspace(0.05, 0.2, 30001)
    tip = math.pi * D * 20.0
    load = float(k) * (fine * math.pi * D**2 / 4 * tip) ** 2
    return [float(fine[np.flatnonzero(psi(fine, dip) * 0.6 * tip**2 > load)[-1]]) for dip in (0.034, 0.016)]


def test_a_mounted_fan_is_kept_and_read_back_with_all_of_it() -> None:
    sweeps = [swept(each, way, dip) for each in DUTIES for way, dip in (("up", 0.034), ("down", 0.016))]
    fan = reduced(*sweeps)
    back = fan_of(*fan_parts(fan))
    assert back.hysteresis is not None
    assert fan.hysteresis is not None
    assert back.hysteresis.half.tolist() == fan.hysteresis.half.tolist()
    (one,), (other,) = fan.settings, back.settings
    for name in ("values", "central", "effects", "spread"):
        assert np.array_equal(getattr(one, name), getattr(other, name)), name
    assert (one.kind, one.sources, one.identity) == (other.kind, other.sources, other.identity)
    sources = fan.characteristic.sources
    assert np.array_equal(
        fan.curve(None, Part.TOTAL, sources, duty=0.6).pressure,
        back.curve(None, Part.TOTAL, sources, duty=0.6).pressure,
    )
