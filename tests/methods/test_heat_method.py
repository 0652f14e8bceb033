"""From logs to temperature rises, against an invented rig of two nodes whose truth is known in closed form."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pytest
from heat_run import BLOCK, LOOP, Array, Setting, rise, run

from stillroom.core.heat.heat_mounting import HeatMounting, StepHow
from stillroom.errors import BadInput
from stillroom.methods.airflow.chain import Chain
from stillroom.methods.heat.channels import Channels, air_of
from stillroom.methods.heat.kept import heat_of, heat_parts, series_from, series_parts
from stillroom.methods.heat.liquids import liquid_named
from stillroom.methods.heat.mounting import Reduced, reduce_heat
from stillroom.methods.heat.stepping import StepContext, reduce_step
from stillroom.methods.heat.told import HeatTold, Log, LogTold, RigTold, StepTold

RIG = RigTold("heat-1", 300.0, fans=2, coolant="water", flow=2.5e-5)
THREE = (
    Setting(1.0, 30.0, 40.0, 1800),
    Setting(0.8, 25.0, 34.0, 1800),
    Setting(0.6, 20.0, 28.0, 1800),
)
TEMPERATURES = ("time", "hot_temperature", "air_in_temperature", "air_in_temperature_2")


def log(columns: Mapping[str, Array], *names: str, **told: object) -> Log:
    """A log of some channels, or of all."""
    kept = {name: columns[name] for name in names or columns}
    words = {"run": "r1", "key": "k1", "file": "a.csv", "moment": "2026-03-02T09:00:00", **told}
    return Log(LogTold(**words), kept)  # type: ignore[arg-type]


def reduced(*logs: Log, rig: RigTold = RIG, steps: Sequence[StepTold] = (), **told: object) -> Reduced:
    return reduce_heat([logs], HeatTold("m1", rig, (tuple(steps),), **told))  # type: ignore[arg-type]


def heat(*logs: Log, rig: RigTold = RIG, steps: Sequence[StepTold] = (), **told: object) -> HeatMounting:
    found = reduced(*logs, rig=rig, steps=steps, **told)
    assert found.heat is not None, found.failed
    return found.heat


def test_each_setting_of_a_run_has_its_rise_within_a_twentieth_of_a_kelvin() -> None:
    settings = [*THREE, Setting(0.4, 14.0, 21.0, 2400), Setting(0.3, 11.0, 17.0, 2400)]
    found = heat(log(run(settings, power=297.0)))
    assert [each.how for each in found.steps] == [StepHow.STEADY] * 5
    for step, setting in zip(found.steps, settings, strict=True):
        assert step.setting_kind == "duty"
        assert step.setting == pytest.approx(setting.duty)
        assert step.speed == pytest.approx(setting.speed, rel=1e-3)
        assert step.power == pytest.approx(297.0, rel=1e-3)
        assert step.delta == pytest.approx(rise(297.0, setting.conductance), abs=0.05)
        assert step.delta_nominal == pytest.approx(rise(300.0, setting.conductance), abs=0.05)
        assert step.conductance == pytest.approx(300.0 / step.delta_nominal)
        assert step.tau == pytest.approx(
            (LOOP + BLOCK) / setting.conductance, rel=0.1
        )  # slowest mode, nearly
    assert found.curve is not None
    low, high = found.curve.reach
    assert low == pytest.approx(0.9 * 11.0, rel=0.01)
    assert high == pytest.approx(1.1 * 30.0, rel=0.01)


@pytest.mark.parametrize("seed", range(6))
def test_what_is_forecast_at_two_and_a_half_constants_holds_the_truth(seed: int) -> None:
    setting = Setting(1.0, 30.0, 25.0, 600)
    step = heat(log(run([setting], seed=seed))).steps[0]
    assert step.how is StepHow.FORECAST
    assert step.forecast is not None
    assert step.forecast["low"] - 0.1 <= rise(300.0, 25.0) <= step.forecast["high"] + 0.1
    assert step.delta_nominal == pytest.approx(rise(300.0, 25.0), abs=0.15)


def test_a_run_cut_before_two_constants_gives_no_number_but_the_reason() -> None:
    found = heat(log(run([Setting(1.0, 30.0, 25.0, 300)])))
    (step,) = found.steps
    assert step.how is StepHow.NOT_STEADY
    assert np.isnan(step.delta_nominal)
    assert np.isnan(step.conductance)
    assert any(mark.startswith("not steady: ") and "time constants" in mark for mark in step.marks)
    assert found.curve is None
    assert not found.results
    body, arrays = heat_parts(found)
    assert body["steps"][0]["delta_nominal"] is None
    assert np.isnan(heat_of(body, arrays).steps[0].delta_nominal)


def test_a_short_setting_leans_on_the_heat_capacity_that_long_ones_show() -> None:
    long, short = Setting(1.0, 30.0, 40.0, 2400), Setting(0.5, 18.0, 25.0, 560)
    alone = heat(log(run([short]))).steps[0]
    second = heat(log(run([long, short]))).steps[1]
    assert second.how is StepHow.FORECAST
    assert second.tau == pytest.approx(232.0, rel=0.12)
    assert abs(second.delta_nominal - rise(300.0, 25.0)) < 0.2
    assert alone.how is StepHow.FORECAST


def test_a_heater_that_drifts_by_two_per_cent_is_brought_out() -> None:
    columns = run([Setting(1.0, 30.0, 40.0, 2400)], power=297.0)
    columns["heater_current"] = (
        columns["heater_current"] * 1.02
    )  # the meter reads 2 % more: the rise is 2 % smaller
    step = heat(log(columns)).steps[0]
    assert step.delta_nominal == pytest.approx(rise(300.0, 40.0) / 1.02, abs=0.05)


def test_without_power_the_rise_is_as_measured_and_marked() -> None:
    step = heat(log(run(THREE), *TEMPERATURES, "speed", "duty")).steps[0]
    assert step.delta_nominal == pytest.approx(rise(297.0, 40.0), abs=0.05)
    assert np.isnan(step.power)
    assert np.isnan(step.conductance)
    assert "power not read: not brought to nominal power" in step.marks


def test_the_air_is_averaged_in_step_with_the_hot_probe() -> None:
    """A room that warms by 1 K in an hour: the rise is taken against the air of the same minutes."""
    columns = run([Setting(1.0, 30.0, 40.0, 3600)], drift=1.0)
    step = heat(log(columns)).steps[0]
    assert step.delta_nominal == pytest.approx(rise(300.0, 40.0), abs=0.08)  # the loop lags by 1 K/h times τ
    assert step.air - 295.15 == pytest.approx(0.98, abs=0.05)
    assert step.air_drift > 0.0


def test_a_probe_that_comes_and_goes_does_not_move_the_mean_of_the_air() -> None:
    times = np.arange(100.0)
    first, second = np.full(100, 295.0), np.full(100, 297.0)
    second[40:] = np.nan
    air, names = air_of(Channels(times, {"air_in_temperature": first, "air_in_temperature_2": second}))
    assert names == ("air_in_temperature",)
    assert np.all(air == 295.0)


def test_two_loggers_are_brought_to_one_clock_by_a_shared_edge() -> None:
    columns = run(THREE)
    other = {name: columns[name][::2] for name in ("time", "heater_voltage", "heater_current", "duty")}
    found = heat(
        log(columns, *TEMPERATURES, "speed", logger="temperatures"),
        log(other, run="r2", file="b.csv", logger="power", moment="2026-03-02T08:59:00"),
    )
    first, second = found.clocks
    assert first["how"] == "same clock"
    assert second["how"] == "shared edge"
    assert second["offset"] == pytest.approx(60.0, abs=2.0)
    assert 0.0 < second["u"] < 2.0
    for step, setting in zip(found.steps, THREE, strict=True):
        assert step.delta_nominal == pytest.approx(rise(300.0, setting.conductance), abs=0.05)
        assert step.setting == pytest.approx(setting.duty)


def test_a_stated_offset_comes_before_the_edge_which_is_told_beside_it() -> None:
    columns = run(THREE)
    other = {name: columns[name] for name in ("time", "heater_voltage", "heater_current", "duty")}
    found = heat(
        log(columns, *TEMPERATURES, "speed", logger="temperatures"),
        log(other, run="r2", file="b.csv", logger="power", moment="2026-03-02T08:59:00", offset=45.0),
    )
    second = found.clocks[1]
    assert second["how"] == "stated offset"
    assert second["offset"] == 45.0
    assert second["found"] == pytest.approx(60.0, abs=2.0)


def test_a_logger_that_shares_no_event_is_marked_but_one_of_the_room_alone_is_not() -> None:
    columns = run(THREE)
    humidity = {"time": columns["time"][::60], "relative_humidity": np.full(90, 0.4)}
    other = {name: columns[name] for name in ("time", "heater_voltage", "heater_current")}
    room = log(humidity, run="r3", file="room.csv", logger="room")
    alone = heat(log(columns, logger="temperatures"), room)
    assert alone.steps[0].humidity == pytest.approx(0.4)
    assert not any("not aligned" in mark for mark in alone.marks)
    found = heat(
        log(columns, *TEMPERATURES, "speed", logger="temperatures"),
        log(other, run="r2", file="b.csv", logger="power"),
        room,
    )
    assert "clock of power not aligned" in found.marks
    assert next(each for each in found.clocks if each["logger"] == "power")["u"] is None


def test_gaps_stay_gaps() -> None:
    columns = run(THREE)
    keep = (columns["time"] < 500.0) | (columns["time"] > 800.0)
    other = {name: columns[name][keep] for name in ("time", "heater_voltage", "heater_current", "duty")}
    found = heat(
        log(columns, *TEMPERATURES, "speed", logger="temperatures"),
        log(other, run="r2", file="b.csv", logger="power"),
    )
    assert found.steps[0].left_out > 0.1  # no power in the gap, so no rise at nominal power either
    assert found.steps[0].delta_nominal == pytest.approx(rise(300.0, 40.0), abs=0.05)


def test_a_log_of_the_whole_day_is_cut_to_the_hours_of_the_fan() -> None:
    columns = run([Setting(1.0, 30.0, 40.0, 1800), Setting(0.6, 20.0, 28.0, 1800)])
    own = {
        name: columns[name][1800:] for name in ("time", "speed", "duty", "heater_voltage", "heater_current")
    }
    own["time"] = own["time"] - own["time"][0]
    found = heat(
        log(columns, *TEMPERATURES, logger="rig", names_fan=False),
        log(own, run="r2", file="fan.csv", logger="rig", moment="2026-03-02T09:30:00"),
    )
    (step,) = found.steps
    assert step.delta_nominal == pytest.approx(rise(300.0, 28.0), abs=0.05)
    assert step.moment == "2026-03-02T09:30:00"


def test_planned_settings_give_their_noise_by_the_setting_or_in_order() -> None:
    columns = run(THREE)
    plan = [StepTold(i + 1, kind="duty", setting=each, noise=noise)
            for i, (each, noise) in enumerate(((0.6, 25.0), (0.8, 30.0), (1.0, 35.0)))]  # fmt: skip
    by_drive = heat(log(columns), steps=plan)
    assert [each.noise for each in by_drive.steps] == [35.0, 30.0, 25.0]
    falling = [replace(each, number=4 - each.number) for each in reversed(plan)]
    by_order = heat(log(columns, *TEMPERATURES, "speed", "heater_voltage", "heater_current"), steps=falling)
    assert [each.noise for each in by_order.steps] == [35.0, 30.0, 25.0]
    assert [each.setting for each in by_order.steps] == [1.0, 0.8, 0.6]


def test_fewer_settings_than_planned_are_told() -> None:
    plan = [StepTold(i + 1, kind="duty", setting=each) for i, each in enumerate((1.0, 0.8, 0.6, 0.4))]
    assert "4 settings planned, 3 found in the record" in heat(log(run(THREE)), steps=plan).marks


def test_a_told_step_takes_the_place_of_what_the_record_shows() -> None:
    told = StepTold(2, first=2000.0, last=3400.0, kind="duty", setting=0.8)
    found = reduced(log(run(THREE)), steps=[told])
    assert found.heat is not None
    assert [round(each.first) for each in found.heat.steps][1] == 2000
    assert [each["by"] for each in found.cuts] == ["record of the drive", "told", "record of the drive"]
    clock = StepTold(2, moment="2026-03-02T09:33:20", until="2026-03-02T09:56:40", kind="duty", setting=0.8)
    again = heat(log(run(THREE)), steps=[clock])
    assert again.steps[1].first == found.heat.steps[1].first
    assert again.steps[1].last == 3400.0


def test_calibrations_and_a_common_bath_are_taken_off() -> None:
    columns = run(THREE)
    off = {"hot_temperature": 0.30, "air_in_temperature": -0.20, "air_in_temperature_2": 0.10}
    read = {name: values + off.get(name, 0.0) for name, values in columns.items()}
    raw = heat(log(read))
    assert raw.steps[0].delta_nominal == pytest.approx(rise(300.0, 40.0) + 0.35 * 300 / 297, abs=0.05)
    assert "probes not zeroed together" in raw.marks
    chains = {name: Chain(f"{name}-1", offset=value, offset_u=0.02) for name, value in off.items()}
    by_calibration = heat(log(read, chains=chains))
    assert by_calibration.steps[0].delta_nominal == pytest.approx(rise(300.0, 40.0), abs=0.05)
    noise = np.random.default_rng(9).normal(0.0, 0.03, (3, 600))
    bath = {name: 300.0 + value + noise[i] for i, (name, value) in enumerate(off.items())}
    lying = log({"time": np.arange(600.0), **bath}, run="bath", file="bath.csv")
    by_bath = reduced(log(read), baths=(lying,))
    assert by_bath.heat is not None
    assert by_bath.offsets is not None
    assert by_bath.heat.steps[0].delta_nominal == pytest.approx(rise(300.0, 40.0), abs=0.05)
    assert by_bath.heat.marks == ()
    assert by_bath.offsets["hot_temperature"]["from"] == "bath bath.csv"
    sources = by_bath.heat.sources or {}
    assert 0.0 < sources["probe/heat-1/hot"] < 0.1 < (raw.sources or {})["probe/heat-1/hot"]


def test_wrong_pulses_of_a_turn_are_told_and_the_optical_speed_counts() -> None:
    columns = run(THREE)
    columns["optical_speed"] = columns["speed"]
    columns["speed"] = 2.0 * columns["speed"]
    step = heat(log(columns)).steps[0]
    assert step.speed == pytest.approx(30.0, rel=1e-3)
    assert any("2.00 times the optical speed" in mark for mark in step.marks)


def test_the_liquid_carries_what_the_heater_and_the_pump_put_in() -> None:
    columns = run([Setting(1.0, 30.0, 40.0, 2400)], power=300.0)
    flow, put_in = 2.5e-5, 305.0
    capacity = flow * 992.2 * 4179.0  # water at 40 °C (handbook values, from memory)
    columns["liquid_in_temperature"] = np.full(2400, 313.15 + put_in / capacity / 2.0)
    columns["liquid_out_temperature"] = np.full(2400, 313.15 - put_in / capacity / 2.0)
    columns["liquid_flow"] = np.full(2400, flow)
    step = heat(log(columns), rig=replace(RIG, pump_power=5.0)).steps[0]
    assert step.balance == pytest.approx(1.0, abs=0.005)
    assert step.u_balance is not None
    assert step.pump_heat == 5.0
    assert step.liquid_flow == pytest.approx(flow)


def test_a_bath_takes_the_offsets_of_the_liquids_probes_off_too() -> None:
    """0.3 K between the probes of the liquid are a tenth of what the liquid warms by: the bath tells them."""
    columns = run([Setting(1.0, 30.0, 40.0, 2400)], power=300.0)
    flow = 2.5e-5
    capacity = flow * 992.2 * 4179.0  # water at 40 °C (handbook values, from memory)
    columns["liquid_in_temperature"] = np.full(2400, 313.15 + 150.0 / capacity)
    columns["liquid_out_temperature"] = np.full(2400, 313.15 - 150.0 / capacity)
    columns["liquid_flow"] = np.full(2400, flow)
    off = {"hot_temperature": 0.1, "air_in_temperature": -0.2, "air_in_temperature_2": 0.1,
           "liquid_in_temperature": 0.25, "liquid_out_temperature": -0.05}  # fmt: skip
    read = {name: values + off.get(name, 0.0) for name, values in columns.items()}
    noise = np.random.default_rng(9).normal(0.0, 0.03, (len(off), 600))
    bath = {name: 300.0 + value + noise[i] for i, (name, value) in enumerate(off.items())}
    lying = log({"time": np.arange(600.0), **bath}, run="bath", file="bath.csv")
    found = reduced(log(read), baths=(lying,))
    assert found.heat is not None
    assert found.heat.steps[0].balance == pytest.approx(1.0, abs=0.01)
    assert heat(log(read)).steps[0].balance == pytest.approx(1.10, abs=0.01)
    assert (found.offsets or {})["liquid_in_temperature"]["from"] == "bath bath.csv"


def test_one_way_for_a_step_that_is_over_and_one_that_grows() -> None:
    """The same readings give the same step, whether they came with a mounting or alone."""
    columns = run(THREE)
    whole = heat(log(columns)).steps[0]
    times = columns.pop("time")
    part = Channels(times, columns, "2026-03-02T09:00:00").between(whole.first, whole.last)
    alone = reduce_step(part, StepContext(1, 300.0, "duty", whole.setting))
    assert alone.delta_nominal == whole.delta_nominal
    assert alone.steadiness == whole.steadiness


def test_no_hot_probe_is_said() -> None:
    found = reduced(log(run(THREE), "time", "air_in_temperature", "speed"))
    assert found.heat is None
    assert "no hot probe" in found.failed


def test_what_is_kept_comes_back() -> None:
    found = reduced(log(run(THREE)))
    assert found.heat is not None
    assert found.series is not None
    body, arrays = heat_parts(found.heat)
    again = heat_of(body, arrays)
    assert again.steps == found.heat.steps
    assert again.marks == found.heat.marks
    assert again.curve is not None
    assert found.heat.curve is not None
    assert np.array_equal(again.curve.rows(), found.heat.curve.rows())
    series = series_from(*series_parts(found.series))
    assert len(series.times) <= 2000
    assert len(series.spans) == 3
    assert series.spans[0].steady_from is not None
    late = (series.times > 1200.0) & (series.times < 1790.0)
    assert np.nanmean(series.delta[late]) == pytest.approx(rise(300.0, 40.0), abs=0.05)


def test_coolants_by_their_words() -> None:
    water, glycol = liquid_named(" Water "), liquid_named("glycol 30 %")
    assert water is not None
    assert water.words == "water"
    assert glycol is not None
    assert glycol.fraction == pytest.approx(0.3)
    assert liquid_named("") is None
    with pytest.raises(BadInput, match="coolant"):
        liquid_named("oil")
