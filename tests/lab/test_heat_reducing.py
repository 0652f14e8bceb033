"""From brought-in logs to kept heat: what is worked out, what hangs on what, and the way back to the bytes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from heat_bench import (
    CAPACITY,
    RIG,
    ROOM,
    STEP,
    TWO,
    HeatBench,
    Held,
    begun_cold,
    channels,
    graph_of,
    reduced,
)

from stillroom.core.heat.heat_mounting import HeatMounting
from stillroom.lab.book import open_book
from stillroom.lab.curves import result_of
from stillroom.lab.heat.coolant import coolant_of, is_filling, is_topping_up
from stillroom.lab.heat.loading import load_heat, load_series
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import Graph
from stillroom.lab.reducing import missing, reduce_lab
from stillroom.lab.source_words import source_in_words
from stillroom.lab.tracing import follow
from stillroom.records.acts import Decision, Event
from stillroom.records.fields import as_json
from stillroom.store.journal import Note
from stillroom.store.lab import Lab
from stillroom.verbs.working import reduce

SEDGE = {"fan": "Sedge", "sample": "s1", "mounting": "Sedge-h1"}
TEMPERATURES = ("t hot [°C]", "air in [°C]")
POWERS = ("heater volts [V]", "heater amps [A]", "fan speed [rpm]", "duty [%]")


@pytest.fixture
def bench(tmp_path: Path) -> HeatBench:
    return HeatBench(tmp_path)


def only(graph: Graph) -> HeatNode:
    (node,) = graph.heats
    return node


def loaded(lab: Lab, node: HeatNode) -> HeatMounting:
    return load_heat(lab.path, result_of(lab, node))


def noted(lab: Lab, *records: object) -> None:
    lab.write([Note(each.kind, each.name, as_json(each)) for each in records])  # type: ignore[attr-defined]


def exclude(lab: Lab, subject: str, key: str) -> None:
    noted(lab, Decision(finding=subject, rule="0", subject=subject, key=key, action="exclude", reason="a test",
                        by="AB", time="2026-03-09T12:00:00"))  # fmt: skip


def test_one_log_gives_the_rise_of_each_setting_and_the_way_back_to_the_bytes(bench: HeatBench) -> None:
    path = bench.log("sedge.csv", channels(TWO), "2026-03-02T09:00:00", **SEDGE)
    bench.finish()
    with bench.lab() as lab:
        node = only(reduced(lab))
        found = loaded(lab, node)
        for step, held in zip(found.steps, TWO, strict=True):
            assert step.delta_nominal == pytest.approx(held.rise, abs=0.05)
            assert step.setting == pytest.approx(held.duty / 100.0)
            assert step.speed == pytest.approx(held.speed / 60.0, rel=2e-3)
        assert found.curve is not None
        assert found.curve.identity == "heat/Sedge-h1"
        trace = follow(lab, node.key)
        text = "\n".join((trace.title, *trace.lines))
        assert "temperature rise 8.3" in text
        assert "K at 300 W from two steps" in text
        assert "step 2 at 60 %, 1,200 rpm, from 26.7 to 53.3 min: measured 11.1" in text
        (log,) = trace.data["from"]
        original = lab.path / log["original"]["place"]
        assert original.read_bytes() == path.read_bytes()
        first, last = log["lines"]
        rows = original.read_text(encoding="utf-8").splitlines()
        assert rows[first - 1].startswith("2026-03-02 09:00:00,")
        assert last == len(rows)
        assert f"lines {first} to {last}, SHA-256 {log['original']['sha256']}" in text


def test_the_series_behind_the_steps_is_kept_thinned(bench: HeatBench) -> None:
    bench.log("sedge.csv", channels(TWO), "2026-03-02T09:00:00", **SEDGE)
    bench.finish()
    with bench.lab() as lab:
        series = load_series(lab.path, result_of(lab, only(reduced(lab))))
    assert series.moment == "2026-03-02T09:00:00"
    assert series.kind == "duty"
    assert [each.how for each in series.spans] == ["measured", "measured"]
    late = (series.times > 1200.0) & (series.times < 1590.0)
    assert np.nanmean(series.delta[late]) == pytest.approx(TWO[0].rise, abs=0.05)
    assert np.nanmean(series.air) == pytest.approx(ROOM + 273.15, abs=0.02)


def test_a_log_begun_before_the_heat_is_drawn_as_it_was_read(bench: HeatBench) -> None:
    """The rise of a node that is heated from a moment on is P/G (1 − e^(−t/τ)), τ = C/G: closed form."""
    before, held = 420.0, (Held(100.0, 1800.0, 23.0), Held(60.0, 1200.0, 18.0))
    read = channels(held)
    read["t hot [°C]"][300:312] -= 1.5  # an opened door, 20 minutes after the heat was switched on
    bench.log("sedge.csv", begun_cold(read, before), "2026-03-02T09:00:00", **SEDGE)
    bench.finish()
    with bench.lab() as lab:
        node = only(reduced(lab))
        series, found = load_series(lab.path, result_of(lab, node)), loaded(lab, node)
        (log,) = follow(lab, node.key).data["from"]
        rows = (lab.path / log["original"]["place"]).read_text(encoding="utf-8").splitlines()
    assert np.isnan(series.delta[series.times < before]).all()
    first = found.steps[0]
    calm = (series.times >= before) & (series.times <= first.last)
    door = before + 300 * STEP, before + 311 * STEP
    calm &= (series.times < door[0]) | (series.times > door[1])
    curve = held[0].rise * -np.expm1(-(series.times[calm] - before) * held[0].conductance / CAPACITY)
    assert series.delta[calm] == pytest.approx(curve, abs=0.2)
    assert any(one <= door[1] and door[0] <= other for one, other in series.left_out)
    for each, step, start in zip(log["steps"], found.steps, ("09:07:00", "09:33:40"), strict=True):
        one, other = each["lines"]
        assert each["step"] == step.number
        assert rows[one - 1].startswith(f"2026-03-02 {start}")
        assert other - one == (step.last - step.first) / STEP


def test_several_files_make_one_run_with_clocks_aligned_and_told(bench: HeatBench) -> None:
    read = channels(TWO)
    bench.log("temp.csv", read, "2026-03-02T09:00:00", (*TEMPERATURES, "duty [%]"), session="A",
              logger="temperatures", **SEDGE)  # fmt: skip
    bench.log("power.csv", read, "2026-03-02T08:58:30", POWERS[:3], session="A", logger="power", **SEDGE)
    bench.finish()
    with bench.lab() as lab:
        node = only(reduced(lab))
        assert node.runs == (tuple(each.name for each in node.logs),)
        found = loaded(lab, node)
        body = result_of(lab, node).body
        text = "\n".join(follow(lab, node.key).lines)
    assert [each.delta_nominal for each in found.steps] == pytest.approx([e.rise for e in TWO], abs=0.05)
    assert [each["logger"] for each in body["clocks"]] == ["temperatures", "power"]
    assert body["clocks"][1]["how"] == "shared edge"
    assert body["clocks"][1]["offset"] == pytest.approx(90.0, abs=8.0)
    assert "clock of power: +" in text
    assert {each["logger"] for each in body["logs"]} == {"temperatures", "power"}


def test_a_stated_offset_is_used(bench: HeatBench) -> None:
    read = channels(TWO)
    bench.log("temp.csv", read, "2026-03-02T09:00:00", (*TEMPERATURES, "duty [%]"), session="A",
              logger="temperatures", **SEDGE)  # fmt: skip
    bench.log("power.csv", read, "2026-03-02T08:58:30", POWERS[:3], session="A", logger="power",
              clock_offset=90, **SEDGE)  # fmt: skip
    bench.finish()
    with bench.lab() as lab:
        (first, second) = loaded(lab, only(reduced(lab))).clocks
    assert (first["how"], second["how"], second["offset"]) == ("same clock", "stated offset", 90.0)


def test_a_log_of_the_day_lies_beside_the_runs_whose_hours_it_shares(bench: HeatBench) -> None:
    day = np.arange(0.0, 6 * 3600.0, 60.0)
    room = {"time": day, "humidity [%]": np.full(len(day), 41.0)}
    bench.log("room.csv", room, "2026-03-02T08:00:00", logger="room")
    bench.log("sedge.csv", channels(TWO), "2026-03-02T09:00:00", **SEDGE)
    bench.log(
        "late.csv", channels(TWO, seed=2), "2026-03-02T20:00:00", fan="Rush", sample="s1", mounting="Rush-h1"
    )
    bench.finish()
    with bench.lab() as lab:
        graph = reduced(lab)
        of = {each.fan: each for each in graph.heats}
        assert [each.subject for each in of["Sedge"].logs] == ["bench/sedge.csv", "bench/room.csv"]
        assert [each.subject for each in of["Rush"].logs] == ["bench/late.csv"]
        assert loaded(lab, of["Sedge"]).steps[0].humidity == pytest.approx(0.41)


def test_steps_of_a_table_give_their_noise_and_correct_the_cuts(bench: HeatBench) -> None:
    bench.log("sedge.csv", channels(TWO), "2026-03-02T09:00:00", **SEDGE)
    steps = ("mounting,step,from,to,duty [%],noise [dBA]\n"
             "Sedge-h1,1,,,100,35\nSedge-h1,2,09:30,09:52,60,30\n")  # fmt: skip
    bench.finish(tables={"steps.csv": steps})
    with bench.lab() as lab:
        node = only(reduced(lab))
        found, cuts = loaded(lab, node), result_of(lab, node).body["cuts"]
    assert [each.noise for each in found.steps] == [35.0, 30.0]
    assert [each["by"] for each in cuts] == ["record of the drive", "told"]
    assert found.steps[1].moment == "2026-03-02T09:30:00"
    assert found.steps[1].last == pytest.approx(52 * 60.0, abs=4.0)


CALIBRATION = """
[[instrument.t-hot.calibration]]
date = {date}
certificate = "{date}"
offset = "{offset} K"
offset_u = "0.02 K"
"""


def test_a_calibration_changed_later_moves_exactly_what_hangs_on_it(bench: HeatBench) -> None:
    bench.log("sedge.csv", channels(TWO), "2026-03-02T09:00:00", **SEDGE)
    bench.log(
        "rush.csv", channels(TWO, seed=2), "2026-03-20T09:00:00", fan="Rush", sample="s1", mounting="Rush-h1"
    )
    toml = (
        RIG
        + CALIBRATION.format(date="2026-03-01", offset=0.0)
        + CALIBRATION.format(date="2026-03-10", offset=0.0)
    )
    bench.finish(toml)
    with bench.lab() as lab:
        before = {each.fan: each for each in reduced(lab).heats}
        rises = {fan: loaded(lab, node).steps[0].delta_nominal for fan, node in before.items()}
        later = bench.base / "later.toml"
        later.write_text(
            '[instrument.t-hot]\nquantity = "hot_temperature"\n'
            + CALIBRATION.format(date="2026-03-10", offset=0.5),
            encoding="utf-8",
        )
        bring_in(lab, [later], {})
        graph = graph_of(lab)
        after = {each.fan: each for each in graph.heats}
        assert after["Sedge"].key == before["Sedge"].key
        assert after["Rush"].key != before["Rush"].key
        assert [each.fan for each in missing(lab, graph)] == ["Rush"]  # type: ignore[union-attr]
        done = reduce_lab(lab, graph, workers=1)
        assert (done.heats, done.heats_made) == (2, 1)
        moved = loaded(lab, after["Rush"]).steps[0]
        assert rises["Rush"] - moved.delta_nominal == pytest.approx(0.5 * 300.0 / 297.0, abs=1e-3)
        assert "t-hot, calibrated 2026-03-10" in "\n".join(follow(lab, after["Rush"].key).lines)


METERS = """
heater_voltage = "volts"
heater_current = "amps"

[instrument.volts]
quantity = "heater_voltage"
accuracy = "± 0.12 % of reading"

[[instrument.volts.calibration]]
date = "2026-01-01"
certificate = "within its limits"

[instrument.amps]
quantity = "heater_current"
accuracy = "± 0.2 % of reading"
"""


def test_a_calibration_without_an_uncertainty_leaves_the_accuracy_line(bench: HeatBench) -> None:
    bench.log("sedge.csv", channels(TWO), "2026-03-02T09:00:00", **SEDGE)
    head, at, rest = RIG.partition('air_in_temperature = "t-air"\n')
    bench.finish(head + at + METERS.lstrip() + rest)
    with bench.lab() as lab:
        found = loaded(lab, only(reduced(lab)))
        rises = [each.delta_nominal for each in found.results]
        limit = np.hypot(0.0012, 0.002) / np.sqrt(3.0)  # rectangular: JCGM 100:2008, 4.3.7
        expected = limit * np.sqrt(np.mean(np.square(rises)))
        assert (found.sources or {})["heater/amps+volts"] == pytest.approx(expected, rel=1e-3)


def test_a_meter_that_tells_nothing_is_not_taken_for_perfect(bench: HeatBench) -> None:
    bench.log("sedge.csv", channels(TWO), "2026-03-02T09:00:00", **SEDGE)
    head, at, rest = RIG.partition('air_in_temperature = "t-air"\n')
    untold = METERS.lstrip().replace('accuracy = "± 0.2 % of reading"\n', "")
    bench.finish(head + at + untold + rest)
    with bench.lab() as lab:
        found = loaded(lab, only(reduced(lab)))
        rises = [each.delta_nominal for each in found.results]
        assert (found.sources or {})["heater/amps+volts"] > 0.004 * np.sqrt(np.mean(np.square(rises)))


def test_the_last_bath_before_a_run_takes_the_offsets_off(bench: HeatBench) -> None:
    bath = np.random.default_rng(4).normal(0.0, 0.03, (2, 300))
    lying = {"time": np.arange(300.0), "t hot [°C]": 25.4 + bath[0], "air in [°C]": 25.0 + bath[1]}
    bench.log("bath.csv", lying, "2026-03-01T16:00:00", what="bath")
    bench.log("sedge.csv", channels(TWO, hot_off=0.4), "2026-03-02T09:00:00", **SEDGE)
    bench.finish()
    with bench.lab() as lab:
        node = only(reduced(lab))
        assert [each.subject for each in node.baths] == ["bench/bath.csv"]
        found = loaded(lab, node)
        assert found.steps[0].delta_nominal == pytest.approx(TWO[0].rise, abs=0.05)
        assert "probes not zeroed together" not in found.marks
        assert "bath bench/bath.csv" in "\n".join(follow(lab, node.key).lines)
        second = dict(lying) | {"t hot [°C]": lying["t hot [°C]"] + 1.0}
        bench.log("next bath.csv", second, "2026-03-08T16:00:00", what="bath")
        bench.finish()
        bring_in(lab, [bench.base / "bench"], {})
        assert only(graph_of(lab)).key == node.key  # a later bath leaves what was before it


def test_decisions_leave_runs_and_mountings_out_and_lapse_when_the_key_moves(bench: HeatBench) -> None:
    bench.log("morning.csv", channels(TWO), "2026-03-02T09:00:00", **SEDGE)
    bench.log("noon.csv", channels((Held(40.0, 900.0, 22.0),), seed=2), "2026-03-02T12:00:00", **SEDGE)
    bench.finish()
    with bench.lab() as lab:
        node = only(reduced(lab))
        assert len(loaded(lab, node).steps) == 3
        assert len(node.runs) == 2
        noon = node.logs[1]
        exclude(lab, f"run:{noon.name}", noon.key)
        graph = reduced(lab)
        without = only(graph)
        assert [each.name for each in without.left_out] == [noon.name]
        assert without.judged == node.key != without.key
        assert len(loaded(lab, without).steps) == 2
        assert (f"run:{noon.name}", noon.key) in graph.excluded
        exclude(lab, f"mounting:{node.subject}", node.key)
        assert graph_of(lab).heats == ()


def test_coolant_topped_up_begins_a_filling_of_its_own(bench: HeatBench) -> None:
    bench.log("sedge.csv", channels(TWO), "2026-03-02T09:00:00", **SEDGE)
    bench.log(
        "rush.csv", channels(TWO, seed=2), "2026-03-20T09:00:00", fan="Rush", sample="s1", mounting="Rush-h1"
    )
    bench.finish()
    with bench.lab() as lab:
        before = {each.fan: each.key for each in graph_of(lab).heats}
        noted(lab, Event(time="2026-03-10T08:00", text="Coolant topped up", rig="heat-1"))
        after = {each.fan: each for each in reduced(lab).heats}
        assert after["Sedge"].key == before["Sedge"]
        assert after["Rush"].key != before["Rush"]
        assert "coolant/heat-1/2026-03-10" in (loaded(lab, after["Rush"]).sources or {})
        noted(lab, Event(time="2026-02-10", text="changed the coolant for fresh water", rig="heat-1"))
        told = coolant_of(open_book(lab), "heat-1", "2026-03-20")
        assert (told.filled, told.topped_up, told.era) == ("2026-02-10", "2026-03-10", "2026-03-10")
        assert told.age("2026-03-20") == 38 * 86_400.0


@pytest.mark.parametrize(
    ("text", "filled", "topped"),
    [
        ("coolant topped up", False, True),
        ("Topped up the loop, 20 ml", False, True),
        ("coolant changed", True, False),
        ("new coolant, glycol 30 %", True, False),
        ("swapped the fan", False, False),
        ("the room's air filter changed", False, False),
    ],
)
def test_lines_of_the_log_that_speak_of_the_coolant(text: str, filled: bool, topped: bool) -> None:
    event = Event(time="2026-03-10", text=text)
    assert (is_filling(event), is_topping_up(event)) == (filled, topped)


def test_a_run_cut_early_says_why_and_stops_no_other(bench: HeatBench) -> None:
    short = (Held(100.0, 1800.0, 20.0, 320),)
    bench.log("short.csv", channels(short), "2026-03-02T09:00:00", **SEDGE)
    bench.log(
        "rush.csv", channels(TWO, seed=2), "2026-03-03T09:00:00", fan="Rush", sample="s1", mounting="Rush-h1"
    )
    bench.finish()
    with bench.lab() as lab:
        of = {each.fan: each for each in reduced(lab).heats}
        step = loaded(lab, of["Sedge"]).steps[0]
        assert not step.is_result
        assert np.isnan(step.delta_nominal)
        body = result_of(lab, of["Sedge"]).body
        assert body["curve"] is None
        assert body["steps"][0]["delta_nominal"] is None
        assert "its step is neither steady nor forecast" in follow(lab, of["Sedge"].key).title
        assert len(load_series(lab.path, result_of(lab, of["Sedge"])).spans) == 1
        assert len(loaded(lab, of["Rush"]).results) == 2


def test_a_log_of_nobody_is_told(bench: HeatBench) -> None:
    bench.log("room.csv", {"time": np.arange(0.0, 600.0, 10.0), "humidity [%]": np.full(60, 40.0)},
              "2026-03-02T09:00:00")  # fmt: skip
    bench.finish()
    with bench.lab() as lab:
        graph = graph_of(lab)
        assert graph.heats == ()
        ((_, why),) = graph.unplaced
        assert why == "it has no hot probe or no fan is named for it, and no run of its rig shares its hours"


def test_reduce_counts_heat_runs(bench: HeatBench) -> None:
    bench.log("sedge.csv", channels(TWO), "2026-03-02T09:00:00", **SEDGE)
    bench.finish()
    with bench.lab() as lab:
        path = lab.path
    said = reduce(lab=path, workers=1)
    assert said.title == "1 of 1 heat run worked out."
    assert (said.data["heats"], said.data["heats_made"]) == (1, 1)
    assert reduce(lab=path, workers=1).title == "Nothing to do: one heat run up to date."


def test_keys_hang_on_what_the_method_reads_and_on_nothing_else(bench: HeatBench) -> None:
    bench.log("sedge.csv", channels(TWO), "2026-03-02T09:00:00", **SEDGE)
    bench.finish()
    with bench.lab() as lab:
        node = only(graph_of(lab))
        noted(lab, Event(time="2026-03-01", text="a visitor", rig="heat-1"))
        noted(lab, Event(time="2026-04-01", text="coolant changed", rig="heat-1"))
        assert only(graph_of(lab)).key == node.key
        changed = bench.base / "rig.toml"
        changed.write_text(
            RIG.replace('coolant_flow = "1.5 l/min"', 'coolant_flow = "1.2 l/min"'), encoding="utf-8"
        )
        bring_in(lab, [changed], {})
        assert only(graph_of(lab)).key != node.key


def test_sources_in_plain_words() -> None:
    assert source_in_words("probe/heat-1/hot") == "the offset of the hot probe on heat-1"
    assert source_in_words("probe/heat-1/air") == "the offset of the probes of the air going in on heat-1"
    assert source_in_words("heater/volt-1+amp-1") == "the electric heat by volt-1+amp-1"
    assert source_in_words("heater/") == "the electric heat"
    assert (
        source_in_words("coolant/heat-1/2026-03-10") == "the flow of the coolant since 2026-03-10 on heat-1"
    )
    assert source_in_words("coolant/heat-1/untold filling") == "the flow of the coolant on heat-1"
