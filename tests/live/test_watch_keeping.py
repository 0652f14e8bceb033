"""What has passed stays so until the readings speak against it, and one probe's move is not the air's."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from stillroom.core.heat.heat_mounting import HeatStep, StepHow
from stillroom.live.airing import as_now
from stillroom.live.keeping import Keeping
from stillroom.methods.heat.channels import Channels
from stillroom.records.limits import Limits

TAU = 200.0


def step(how: StepHow, **more: object) -> HeatStep:
    value = np.nan if how is StepHow.NOT_STEADY else 12.0
    return dataclasses.replace(
        HeatStep(
            number=1, first=0.0, last=1200.0, moment="", setting_kind="duty", setting=0.4, noise=None, speed=20.0,
            u_speed=0.1, hot=310.0, air=295.0, delta=11.9, delta_nominal=value, u_own=0.01, power=300.0, power_sd=0.1,
            nominal=300.0, conductance=25.0, how=how, tau=TAU, span=6.0,
        ),
        **more,
    )  # fmt: skip


def drift(kelvin: float, u: float) -> dict[str, object]:
    return {"slope": kelvin / TAU, "u_slope": u / TAU, "tau": TAU, "bound": abs(kelvin) + 1.96 * u}


def forecast(final: float, half: float) -> dict[str, float]:
    return {"final": final, "low": final - half, "high": final + half, "wait": 100.0}


def test_noise_takes_steadiness_not_back_a_proven_drift_does() -> None:
    keeping = Keeping(0.05, None)
    keeping.take(step(StepHow.FORECAST, steadiness=drift(0.02, 0.03)))
    assert keeping.steady is None  # it never was
    keeping.take(step(StepHow.STEADY, steadiness=drift(0.01, 0.01)))
    for noisy in (drift(0.08, 0.03), drift(0.04, 0.20), None):
        keeping.take(step(StepHow.FORECAST, steadiness=noisy))
        assert keeping.steady is not None
    keeping.take(step(StepHow.FORECAST, steadiness=drift(-0.12, 0.03)))
    assert keeping.steady is None


def test_a_step_that_passed_keeps_its_value_while_a_disturbance_hides_it() -> None:
    keeping = Keeping(0.05, None)
    keeping.take(step(StepHow.STEADY, forecast=forecast(12.0, 0.05)))
    hidden = keeping.take(step(StepHow.NOT_STEADY, last=1300.0, span=None))
    assert (hidden.how, hidden.delta_nominal, hidden.last) == (StepHow.STEADY, 12.0, 1300.0)
    assert Keeping(0.05, None).take(step(StepHow.NOT_STEADY)).how is StepHow.NOT_STEADY


@pytest.mark.parametrize(
    ("later", "stays"),
    [
        (forecast(12.05, 0.25), True),
        (None, True),
        (forecast(12.05, 0.35), False),  # much less sure than it was
        (forecast(12.4, 0.15), False),  # another end
    ],
)
def test_an_accepted_forecast_stays_until_another_speaks_against_it(
    later: dict[str, float] | None, stays: bool
) -> None:
    keeping = Keeping(0.05, 0.1)
    keeping.take(step(StepHow.FORECAST, forecast=forecast(12.0, 0.12)))
    assert keeping.accepted is None
    keeping.take(step(StepHow.FORECAST, forecast=forecast(12.0, 0.09)))
    keeping.take(step(StepHow.FORECAST, forecast=later))
    assert (keeping.accepted is not None) is stays


def air(one: float, other: float) -> Channels:
    """Two probes of the air that drift by so much over a time constant, which is the last of three."""
    t = np.arange(0.0, 3.0 * TAU, 2.0)
    course = np.clip(t / TAU - 2.0, 0.0, 1.0)
    noise = 0.02 * np.random.default_rng(1).standard_normal((2, t.size))
    columns = {"air_in_temperature": 295.0 + one * course, "air_in_temperature_2": 295.1 + other * course}
    noisy = zip(columns.items(), noise, strict=True)
    return Channels(t, {name: values + more for (name, values), more in noisy})


def test_what_one_probe_does_alone_is_not_the_airs() -> None:
    limits = Limits()
    growing = step(StepHow.NOT_STEADY, air_drift=0.9, air_spread=0.8)
    alone = as_now(growing, air(0.0, 1.8), limits, 0.5)
    assert abs(alone.air_drift) < 0.1
    assert alone.air_spread == pytest.approx(0.1 + 1.8 * 0.7, abs=0.02)  # its last 120 of 200 s
    together = as_now(growing, air(0.9, 0.9), limits, 0.5)
    assert (together.air_drift, together.air_spread) == (0.9, pytest.approx(0.1, abs=0.02))


def test_a_probe_that_was_put_back_is_no_reason_any_more() -> None:
    since = air(0.0, 0.0)
    back = since.columns["air_in_temperature_2"] + np.where(since.times < 2.3 * TAU, 2.0, 0.0)
    columns = dict(since.columns) | {"air_in_temperature_2": back}
    growing = step(StepHow.NOT_STEADY, air_drift=-0.9, air_spread=0.7)
    now = as_now(growing, Channels(since.times, columns), Limits(), 0.5)
    assert abs(now.air_drift) < 0.1
    assert now.air_spread == pytest.approx(0.1, abs=0.02)
