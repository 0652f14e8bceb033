"""Fans compared by heat against closed forms: ΔT = a (N/1500)^(−0.45), levels as straight lines."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from heat_world import EXPONENT, FANS, LOOP, NOMINAL, PROBE, RUNS, HeatLab, Run, make_heat_lab, put_heat, rise
from noise_world import limit_of, line_of, state, why

from stillroom.compare.candidates import Bound, How, MarginKind, StandingVerdict
from stillroom.core.multiple import Verdict
from stillroom.core.systems import System
from stillroom.errors import BadInput, NotPossible, UnknownThing
from stillroom.lab import asking
from stillroom.lab.field import Asked
from stillroom.lab.heat.cases import NOT_USED
from stillroom.lab.heat.places import BY_AIRFLOW, FORECAST
from stillroom.lab.heat.ranking import heat_answer
from stillroom.lab.ranking_words import further_lines, price_lines, worth_lines
from stillroom.lab.sound.fan_sound import FREE_AIR, Sounds
from stillroom.lab.sound.level_words import TOO_LOUD, TOPS_OUT
from stillroom.measures import Condition, as_asked, measure_named
from stillroom.records.acts import Event, Spread
from stillroom.records.fields import as_json
from stillroom.records.products import Legacy
from stillroom.store import results
from stillroom.store.journal import Note
from stillroom.verbs.conditions import Conditions

HAZEL = Run("Hazel", 12.0, top=2050.0)
PRICES = (
    "fan,price,currency,date,region,shop\n"
    "Alder,24.90,EUR,2026-02-01,EU,North\nAlder,22.90,EUR,2026-03-01,EU,North\n"
    "Birch,12.90,EUR,2026-03-01,EU,North\nCherry,18.90,EUR,2026-02-15,EU,South\nDogwood,9.90,GBP,2026-03-01,UK,West\n"
)


@pytest.fixture(scope="module")
def warm(tmp_path_factory: pytest.TempPathFactory) -> Iterator[HeatLab]:
    made = make_heat_lab(tmp_path_factory.mktemp("heat"), prices=PRICES)
    with made.lab:
        yield made


def test_at_a_limit_the_rise_is_that_at_the_speed_of_the_line(warm: HeatLab) -> None:
    found = warm.ranked(noise=28.0)
    speed = limit_of(30.0, 28.0)
    alder = line_of(found, "Alder")
    assert alder.value == pytest.approx((rise(12.0, speed) + rise(12.1, speed)) / 2, rel=3e-3)
    assert (alder.how, alder.samples, alder.mountings) == (How.INTERPOLATED, 1, 2)
    assert found.conditions["speed"] == "28 dBA at 0.5 m"
    assert found.conditions["rig"] == "heat-1"
    assert found.conditions["fans on the radiator"] == "2, each at 28 dBA at 0.5 m"
    assert found.conditions["nominal power"] == "300 W"
    assert (found.margin.size, found.margin.kind, found.unit) == (0.4, MarginKind.ABSOLUTE, "K")


def test_a_level_in_free_air_stands_in_and_is_said(warm: HeatLab) -> None:
    found = warm.ranked(noise=28.0)
    assert FREE_AIR in line_of(found, "Cherry").marks
    assert FREE_AIR not in line_of(found, "Alder").marks
    assert found.conditions["noise way"] == f"in part {FREE_AIR}"


def test_fans_that_top_out_or_are_too_loud_keep_their_words(warm: HeatLab) -> None:
    found = warm.ranked(noise=28.0)
    dogwood = line_of(found, "Dogwood")  # 22 dBA at 1,500 rpm: 28.6 at 2,000
    assert dogwood.how is How.MODELLED  # between 1,600 and 2,000 rpm, of which the latter was not waited for
    assert FORECAST in dogwood.marks
    assert why(found, "Elm").startswith(TOO_LOUD)
    at_30 = line_of(warm.ranked(noise=30.0), "Dogwood")
    assert any(each.startswith(TOPS_OUT) for each in at_30.marks)
    assert at_30.value == pytest.approx(rise(14.0, 2000.0), rel=3e-3)
    assert FORECAST in at_30.marks
    assert at_30.how is How.MODELLED


def test_fans_without_sound_or_heat_are_named_with_the_reason(warm: HeatLab) -> None:
    found = warm.ranked(noise=28.0)
    assert "no sound" in why(found, "Fir")
    assert why(found, "Hazel") == "no heat run on heat-1"
    assert {each.fan for each in found.standings} == {"Alder", "Birch", "Cherry", "Dogwood"}


def test_at_full_setting_a_speed_and_a_duty(warm: HeatLab) -> None:
    full = warm.ranked()
    assert line_of(full, "Elm").value == pytest.approx(10.0 * (2000 / 1500) ** EXPONENT, rel=3e-3)
    assert line_of(full, "Elm").how is How.MEASURED
    assert line_of(full, "Dogwood").how is How.MODELLED
    assert line_of(full, "Fir").value == pytest.approx(12.0, rel=2e-3)  # its 100 % is 1,500 rpm
    speed = warm.ranked(speed=1000 / 60)
    assert line_of(speed, "Elm").value == pytest.approx(rise(10.0, 1000.0), rel=4e-3)
    assert line_of(speed, "Elm").how is How.INTERPOLATED
    assert "1,500 rpm" in why(speed, "Fir")
    duty = warm.ranked(duty=0.6)
    assert line_of(duty, "Elm").how is How.MEASURED
    between = line_of(warm.ranked(duty=0.7), "Elm")
    assert between.value == pytest.approx(rise(10.0, 1400.0), rel=4e-3)
    assert any(each.startswith("interpolated between 60 % and 80 %") for each in between.marks)


def test_nearly_full_setting_stands_for_it_with_a_mark_and_less_does_not(warm: HeatLab) -> None:
    far = Run("Fir", 12.0, speeds=(800.0, 1200.0), mounting="h2")  # reaches up to 1,320 rpm
    found = replace(warm, nodes=(*warm.nodes[:-1], *put_heat(warm.lab, [HAZEL, far]))).ranked()
    assert "greatest setting was 97.56 %" in line_of(found, "Hazel").marks
    assert "full speed is 2,000 rpm by its airflow" in why(found, "Fir")
    nowhere = replace(LOOP, radiator="")
    alone = replace(warm, nodes=put_heat(warm.lab, [replace(each, loop=nowhere) for each in (HAZEL, far)]))
    assert "steps up to 60 %" in why(alone.ranked(), "Fir")


def test_a_full_speed_that_was_not_run_comes_from_the_airflow_where_the_curve_reaches_it(
    warm: HeatLab,
) -> None:
    """The made fan turns at 2,000 rpm at 100 % duty in the chamber, whatever it moves."""
    near = Run("Fir", 12.0, speeds=(800.0, 1200.0, 1600.0, 1850.0), mounting="h2")
    found = replace(warm, nodes=(*warm.nodes[:-1], *put_heat(warm.lab, [near]))).ranked()
    fir = line_of(found, "Fir")
    assert fir.value == pytest.approx(rise(12.0, 2000.0), rel=4e-3)
    assert fir.how is How.MODELLED
    assert {BY_AIRFLOW, "greatest setting was 92.5 %"} <= set(fir.marks)
    kept = results.get(warm.lab.database, fir.key)
    assert kept is not None
    assert set(kept.inputs["curves"]) == {"Fir-a"}
    u = kept.body["contributions"]["full speed/Fir"] ** 0.5 * kept.body["standard_uncertainty"]
    assert u == pytest.approx(0.015 * -EXPONENT * fir.value, rel=0.03)  # dΔT/ΔT = -0.45 dN/N


def test_a_fan_that_was_run_at_full_speed_is_taken_there_alone(warm: HeatLab) -> None:
    near = Run("Elm", 11.0, speeds=(800.0, 1200.0, 1850.0), mounting="h2")
    elm = line_of(replace(warm, nodes=(*warm.nodes, *put_heat(warm.lab, [near]))).ranked(), "Elm")
    assert (elm.how, elm.mountings) == (How.MEASURED, 1)
    assert NOT_USED in elm.marks


def test_further_mountings_are_ones_that_are_heard_too(warm: HeatLab) -> None:
    """What is a fan's own in the quiet room falls with them, and is no shared error that would stay for ever."""
    book, _ = state(warm.lab)
    asked = Asked(measure_named("heat"), Condition(noise=28.0))
    found = heat_answer(Sounds(warm.lab, book, warm.graph), asked, {})
    case = next(each for each in found.cases if each.candidate.fan == "Birch")
    whole = case.value.parts.private + sum(each**2 for each in case.value.parts.loadings.values())
    parts = case.candidate.parts
    assert parts.private + sum(each**2 for each in parts.loadings.values()) == pytest.approx(whole, rel=1e-9)
    assert "limit/Birch" in case.value.parts.loadings
    assert "limit/Birch" not in parts.loadings
    assert parts.after_samples(50)[-1] < 0.1 * parts.private


def test_past_the_speeds_run_a_value_is_modelled_and_soon_refused(warm: HeatLab) -> None:
    beyond = line_of(warm.ranked(speed=760 / 60), "Elm")
    assert beyond.how is How.MODELLED
    assert "modelled: heat measured from 800 to 2,000 rpm" in beyond.marks
    assert "800 to 2,000 rpm" in why(warm.ranked(speed=600 / 60), "Elm")


def test_conductance_and_power_follow_from_the_same_runs(warm: HeatLab) -> None:
    speed = limit_of(30.0, 28.0)
    conductance = line_of(warm.ranked("conductance", noise=28.0), "Birch")
    assert conductance.value == pytest.approx(NOMINAL / rise(12.0, speed), rel=3e-3)
    power = line_of(warm.ranked("heat-power", noise=28.0), "Birch")
    assert power.value == pytest.approx(2.0 * (speed / 1500.0) ** 3, rel=0.02)
    assert line_of(warm.ranked("heat-power"), "Birch").value == pytest.approx(
        2.0 * (2000 / 1500) ** 3, rel=1e-9
    )


def test_the_probe_that_all_share_cancels_between_fans_on_one_rig(warm: HeatLab) -> None:
    found = warm.ranked()
    pair = next(each for each in found.pairs if {each.a, each.b} == {"Alder", "Birch"})
    elm = line_of(found, "Elm")
    kept = results.get(warm.lab.database, elm.key)
    assert kept is not None
    assert any("probe" in each for each in kept.body["contributions"])
    both = [line_of(found, fan) for fan in ("Alder", "Birch")]
    apart = float(np.hypot(*((each.high - each.low) / 2 for each in both)))
    assert (pair.high - pair.low) / 2 < 0.95 * apart
    assert PROBE.startswith("probe/")


def test_spreads_are_absolute_agreed_once_and_dated(warm: HeatLab) -> None:
    warm.ranked(noise=28.0)
    agreed = warm.lab.current(Spread)["heat, given noise"]
    assert 0.02 < agreed.mounting < 0.3
    assert 0.05 < agreed.sample < 0.6
    assert agreed.date


def test_one_decibel_is_worth_the_slopes_quotient(warm: HeatLab) -> None:
    found = warm.ranked(noise=28.0)
    assert found.worth is not None
    speed = limit_of(30.0, 28.0)
    # dΔT/dL = −0.45 ΔT/(53 lg e): of a straight line of level and a power law of the rise
    expected = 0.45 * rise(12.0, speed) * np.log(10.0) / 53.0
    assert found.worth.per_decibel["Birch"] == pytest.approx(expected, rel=0.03)
    assert 0.15 < found.worth.usual < 0.35
    (told,) = worth_lines(found)
    assert told.startswith("At this limit 1 dB is worth 0.2")
    assert "the margin of 0.4\u00a0K is 1.6\u00a0dB" in told
    assert warm.ranked().worth is None


def test_level_for_a_rise_is_that_at_the_speed_that_holds_it(warm: HeatLab) -> None:
    found = warm.ranked("level", for_heat=12.0)
    speed = 1500.0 * (12.0 / 12.0) ** (1 / EXPONENT)
    birch = line_of(found, "Birch")
    assert birch.value == pytest.approx(30.0 + 53.0 * np.log10(speed / 1500.0), abs=0.15)
    assert found.conditions["speed"] == "the speed for 12 K"
    assert found.conditions["rig"] == "heat-1"
    assert FREE_AIR in line_of(found, "Cherry").marks
    needed = warm.ranked("needed-speed", for_heat=11.0)
    asked = as_asked(measure_named("needed-speed"), Condition(for_heat=11.0))
    assert asked.title == "Speed needed for a temperature rise"
    assert (
        as_asked(measure_named("needed-speed"), Condition(for_flow=0.01)).title
        == "Speed needed for an airflow"
    )
    assert line_of(needed, "Birch").value * 60 == pytest.approx(
        1500.0 * (11 / 12) ** (1 / EXPONENT), rel=0.01
    )
    assert "full speed" in why(warm.ranked("needed-speed", for_heat=10.0), "Birch")
    loud = line_of(warm.ranked("level", for_heat=10.0), "Elm")
    assert loud.value == pytest.approx(55.0, abs=0.3)


def test_what_can_not_be_asked_of_heat_is_refused(warm: HeatLab) -> None:
    with pytest.raises(NotPossible, match="radiator"):
        warm.ranked(obstacle="rad")
    with pytest.raises(NotPossible, match="system"):
        warm.ranked(system=System(2))
    with pytest.raises(NotPossible, match="for-heat"):
        warm.ranked(for_heat=12.0)
    with pytest.raises(NotPossible, match="--rig"):
        warm.ranked("airflow", obstacle="rad", rig="heat-1")
    with pytest.raises(UnknownThing, match="heat-1"):
        warm.ranked(rig="heat-9")
    with pytest.raises(UnknownThing, match="Heather"):
        warm.ranked(only=("Heather",))
    with pytest.raises(BadInput, match="12 K"):
        Conditions(for_heat="12 °C").through()


def test_several_rigs_need_a_name(warm: HeatLab) -> None:
    other = replace(LOOP, name="heat-2", radiator="rad")
    nodes = put_heat(warm.lab, [Run("Alder", 9.0, mounting="k1", loop=other)])
    both = replace(warm, nodes=(*warm.nodes, *nodes))
    with pytest.raises(NotPossible, match="--rig heat-1"):
        both.ranked()
    assert line_of(both.ranked(rig="heat-2"), "Alder").value == pytest.approx(rise(9.0, 2000.0), rel=3e-3)
    assert why(both.ranked(rig="heat-2"), "Birch") == "no heat run on heat-2"


def test_another_loop_or_an_earlier_era_is_left_out_with_the_reason(warm: HeatLab) -> None:
    single = replace(LOOP, fans=1)
    nodes = put_heat(warm.lab, [Run("Hazel", 12.0, loop=single)])
    found = replace(warm, nodes=(*warm.nodes, *nodes)).ranked()
    assert why(found, "Hazel") == "heat run with 1 on the radiator, not with 2"


def test_eras_that_no_bridge_joins_are_parted(tmp_path_factory: pytest.TempPathFactory) -> None:
    runs = [*RUNS[:2], replace(RUNS[2], date="2026-04-02"), replace(RUNS[3], date="2026-04-02")]
    made = make_heat_lab(tmp_path_factory.mktemp("eras"), FANS[:2], runs)
    with made.lab as lab:
        event = Event(time="2026-03-20T08:00", text="coolant filled anew", rig="heat-1", changes_results=True)
        lab.write([Note(Event.kind, event.name, as_json(event))])
        found = made.ranked()
        assert [each.fan for each in found.standings] == ["Birch"]
        assert "era 1 of heat-1" in why(found, "Alder")
        assert "coolant filled anew" in str(found.conditions["era"])


def test_a_mounting_that_could_not_be_used_is_said(warm: HeatLab) -> None:
    short = Run("Alder", 12.0, mounting="h3", speeds=(800.0, 900.0))
    found = replace(warm, nodes=(*warm.nodes, *put_heat(warm.lab, [short]))).ranked(speed=1500 / 60)
    alder = line_of(found, "Alder")
    assert NOT_USED in alder.marks
    assert alder.mountings == 2


def test_without_a_tachometer_only_settings_answer(warm: HeatLab) -> None:
    blind = put_heat(warm.lab, [Run("Hazel", 12.0, has_speed=False)])
    made = replace(warm, nodes=(*warm.nodes, *blind))
    hazel = line_of(made.ranked(), "Hazel")
    assert hazel.value == pytest.approx(rise(12.0, 2000.0), rel=1e-6)
    assert hazel.high - hazel.low > 2 * 1.9 * 0.2  # the probe's 0.2 K is in it
    assert "without a speed" in why(made.ranked(noise=28.0), "Hazel")


def test_a_limit_in_the_floor_gives_a_rise_at_most(tmp_path_factory: pytest.TempPathFactory) -> None:
    floored = replace(FANS[0], sounds=(replace(FANS[0].sounds[0], floor=27.0),))
    made = make_heat_lab(tmp_path_factory.mktemp("floor"), (floored,), RUNS[:1])
    with made.lab:
        assert line_of(made.ranked("conductance", noise=27.0), "Alder").bound is Bound.AT_LEAST
        assert line_of(made.ranked(noise=27.0), "Alder").bound is Bound.AT_MOST


def test_true_ties_are_not_wins_and_gaps_are(warm: HeatLab) -> None:
    found = warm.ranked(noise=28.0)
    verdicts = {each.fan: each.verdict for each in found.standings}
    assert {verdicts["Alder"], verdicts["Birch"]} <= {
        StandingVerdict.LEADER, StandingVerdict.TIED, StandingVerdict.NOT_RESOLVED,
    }  # fmt: skip
    assert verdicts["Dogwood"] is StandingVerdict.BEHIND or any(
        each.verdict is Verdict.NOT_RESOLVED for each in found.pairs
    )
    told = further_lines(found)
    assert not told or told[0].startswith("Not resolved against ")


def test_prices_stand_beside_the_ranking_for_as_many_fans_as_blow(warm: HeatLab) -> None:
    prices = warm.ranked(noise=28.0).prices
    assert prices is not None
    assert (prices.currency, prices.fans_each) == ("EUR", 2)
    assert {each.fan: round(each.price, 2) for each in prices.fans} == {
        "Birch": 25.8,
        "Cherry": 37.8,
        "Alder": 45.8,
    }
    assert prices.without == {"Dogwood": "price in GBP, not EUR"}
    lines = price_lines(warm.ranked(noise=28.0))
    assert "two of each fan" in lines[0]
    assert "2026-02-15 to 2026-03-01" in lines[0]


def test_ask_tells_heat_at_the_limits_of_the_lab(warm: HeatLab) -> None:
    book, _ = state(warm.lab)
    found = asking.answer(warm.lab, book, warm.graph, "Birch", Condition())
    (told,) = found.heat
    assert [row.at for row in told.rows] == [
        "at full setting", "at 25 dBA at 0.5 m", "at 30 dBA at 0.5 m", "at 35 dBA at 0.5 m",
    ]  # fmt: skip
    heat = [row.facts[0].found for row in told.rows]
    assert all(each is not None for each in heat)
    value = heat[2]
    assert value is not None
    assert value.value == pytest.approx(rise(12.0, 1500.0), rel=3e-3)
    fir = asking.answer(warm.lab, book, warm.graph, "Fir", Condition())
    assert [row.at for row in fir.heat[0].rows] == ["at full setting"]
    needed = asking.answer(warm.lab, book, warm.graph, "Birch", Condition(for_heat=12.0, rig="heat-1"))
    by_name = {each.measure.name: each for each in needed.numbers}
    assert by_name["needed-speed"].value == pytest.approx(1500 / 60, rel=0.01)
    assert by_name["level"].value == pytest.approx(30.0, abs=0.2)
    assert asking.answer(warm.lab, book, warm.graph, "Hazel", Condition()).heat == ()


def test_legacy_rises_stand_below_without_a_rank(tmp_path_factory: pytest.TempPathFactory) -> None:
    made = make_heat_lab(tmp_path_factory.mktemp("legacy"), FANS[:2], RUNS[:2])
    with made.lab as lab:
        old = Legacy(fan="Birch", measure="heat", value=9.5, unit="K", obstacle="rad")
        lab.write([Note(Legacy.kind, old.name, as_json(old))])
        line = line_of(made.ranked(), "Birch")
        assert (line.rank, line.how) == (None, How.LEGACY)
        assert [each.fan for each in made.ranked().standings] == ["Alder", "Birch"]


def test_keys_tell_what_they_hang_on(warm: HeatLab) -> None:
    keys = {
        warm.ranked(**told).standings[0].key
        for told in ({}, {"noise": 28.0}, {"noise": 29.0}, {"speed": 20.0}, {"duty": 0.6})
    }
    assert len(keys) == 5
    again = warm.ranked(noise=28.0)
    assert again.standings[0].key in keys
    kept = results.get(warm.lab.database, again.standings[0].key)
    assert kept is not None
    assert set(kept.inputs["heats"])
    assert kept.inputs["limit"]
    assert kept.body["spread"]["unit"] == "K"
