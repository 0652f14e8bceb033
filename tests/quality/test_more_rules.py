"""The rules on unsteadiness, zeros, control signals, stall, repeats, sizes and exclusions, each on changed facts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from changing import (
    alone,
    changed_run,
    flow_times,
    of_rule,
    points,
    pressure_plus,
    pressure_times,
    read_as,
    speed_times,
    with_mounting,
    with_mountings,
)
from reviewed import Reviewed

from stillroom.quality import check_fan, check_rigs
from stillroom.quality.copies import check_copies, prints_of
from stillroom.quality.facts import Beside, FanFacts, Gauge, MountingFacts, Published, RigFacts, RunFacts
from stillroom.quality.speeds import ratios
from stillroom.quality.telling import Bank, named_nozzle
from stillroom.records.acts import Decision
from stillroom.records.limits import Limits
from stillroom.records.products import Sample


def severities(fan: FanFacts, rule: int) -> list[str]:
    return [each.severity.value for each in of_rule(fan, rule)]


# --- 19, 26, 27, 30, 31, 43: one run ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("which", "variation", "points", "severity"),
    [
        (-1, 0.0049, 12, None),
        (-1, 0.0051, 2, "W"),
        (-1, 0.0051, 3, "B"),
        (0, 0.009, 12, None),
        (0, 0.011, 12, "B"),
    ],
)
def test_speed_that_varies_at_a_point(
    clean: Reviewed, which: int, variation: float, points: int, severity: str | None
) -> None:
    """0.5 %, and 1 % below 600 rpm: the slowest sweep of this fan turns at less."""

    def varying(run: RunFacts) -> np.ndarray:
        values = np.full(len(run.flow), 1e-4)
        values[:points] = variation
        return values

    def slower(run: RunFacts) -> RunFacts:
        assert run.speed is not None
        return replace(run, speed=run.speed * 0.9)

    fan = changed_run(clean.facts["Bracken"], read_as("speed_variation", varying), which)
    fan = changed_run(fan, slower, 0)
    slow = fan.mountings[0].runs[0].speed
    assert slow is not None
    assert slow.max() < 10.0
    assert severities(fan, 19) == ([severity] if severity else [])


def test_speed_that_scatters_or_drifts_beyond_its_load(clean: Reviewed) -> None:
    fan = clean.facts["Sedge"]
    assert of_rule(fan, 19) == []

    def scattering(run: RunFacts) -> RunFacts:
        assert run.speed is not None
        return replace(run, speed=run.speed * (1.0 + 0.02 * (-1.0) ** np.arange(len(run.speed))))

    (found,) = of_rule(changed_run(fan, scattering), 19)
    assert "scatters" in found.found

    def drifting(run: RunFacts) -> RunFacts:
        assert run.speed is not None
        return replace(run, speed=run.speed * np.linspace(1.0, 0.96, len(run.speed)))

    (found,) = of_rule(changed_run(fan, drifting), 19)
    assert "drifted" in found.cause
    assert not found.blocks


@pytest.mark.parametrize(("after", "found"), [(0.15, False), (0.25, True), (-0.25, True)])
def test_a_zero_that_moved_over_a_run(clean: Reviewed, after: float, found: bool) -> None:
    fan = clean.facts["Bracken"]
    told = changed_run(fan, lambda run: replace(run, beside=Beside(zero_before=0.0, zero_after=after)))
    assert bool(of_rule(told, 26)) is found
    in_file = changed_run(fan, read_as("pressure_zero", lambda run: np.linspace(0.0, after, len(run.flow))))
    assert bool(of_rule(in_file, 26)) is found


def test_points_that_hunt_are_marked_with_their_band(clean: Reviewed) -> None:
    def hunting(run: RunFacts) -> np.ndarray:
        values = np.full(len(run.flow), 0.005)
        values[3:5] = 0.04
        return values

    (found,) = of_rule(changed_run(clean.facts["Bracken"], read_as("pressure_variation", hunting)), 27)
    run = clean.facts["Bracken"].mountings[0].runs[-1]
    assert f"from {3600 * run.flow[3]:.1f} to {3600 * run.flow[4]:.1f} m³/h" in found.found
    assert not found.blocks


def test_points_far_from_a_speed_that_was_set(clean: Reviewed) -> None:
    def at_speed(share: float) -> FanFacts:
        def change(run: RunFacts) -> RunFacts:
            assert run.speed is not None
            return replace(run, setting_kind="speed", setting=float(np.median(run.speed)) / share)

        return changed_run(clean.facts["Bracken"], change)

    assert of_rule(at_speed(1.0), 30) == []
    (found,) = of_rule(at_speed(1.06), 30)
    assert found.blocks


def test_a_wet_bulb_above_the_dry_one(clean: Reviewed) -> None:
    fan = changed_run(
        clean.facts["Bracken"], read_as("temperature", lambda run: np.full(len(run.flow), 293.0))
    )
    for wet, count in ((289.0, 0), (297.0, 1)):
        told = changed_run(fan, read_as("wet_bulb_temperature", lambda run, t=wet: np.full(len(run.flow), t)))
        found = of_rule(told, 31)
        assert len(found) == count
        assert all("swapped" in each.cause for each in found)


def test_warm_up_and_run_in_where_they_were_written_down(clean: Reviewed) -> None:
    fan = clean.facts["Bracken"]
    for seconds, count in ((240.0, 1), (300.0, 0)):
        told = changed_run(fan, lambda run, t=seconds: replace(run, beside=Beside(warm_up=t)))
        assert len(of_rule(told, 43)) == count
    for hours, count in ((0.5, 1), (1.0, 0)):
        sample = Sample(fan="Bracken", sample="s1", hours=hours * 3600)
        assert len(of_rule(replace(fan, samples={"s1": sample}), 43)) == count


def test_a_gauge_that_is_too_coarse_or_too_small(clean: Reviewed) -> None:
    fan = clean.facts["Bracken"]

    def gauge(resolution: float, span: float | None) -> FanFacts:
        gauges = {"nozzle_pressure": Gauge(resolution, span)}
        return with_mountings(fan, lambda each: replace(each, gauges=gauges))

    assert of_rule(gauge(0.1, 1000.0), 22) == []
    coarse = of_rule(gauge(5.0, None), 22)
    assert coarse
    assert all("less than 100 Pa" in each.found for each in coarse)
    assert any("beyond the gauge's span of 200 Pa" in each.found for each in of_rule(gauge(0.1, 200.0), 22))


# --- 21, 29: speeds and settings -----------------------------------------------------------------------------


def duty_squeezed(run: RunFacts) -> RunFacts:
    """As a generator of the wrong frequency does it: the same at full duty, less between."""
    assert run.speed is not None
    assert run.setting is not None
    factor = 1.0 if run.setting == 1.0 else 0.9
    return replace(speed_times(factor)(run), phi=run.phi, psi=run.psi)


def test_a_control_signal_that_is_off_shows_between_the_ends(clean: Reviewed) -> None:
    fan = clean.facts["Sedge"]
    name = fan.mountings[1].name
    (found,) = of_rule(with_mounting(fan, name, duty_squeezed), 21)
    assert found.subject == f"mounting:{name}"
    assert "PWM generator" in found.cause
    assert "nothing here decides" not in found.cause


@pytest.mark.parametrize(("frequency", "found"), [(25e3, False), (2.5e3, True), (30e3, True)])
def test_the_frequency_of_the_control_signal(clean: Reviewed, frequency: float, found: bool) -> None:
    fan = clean.facts["Sedge"]
    told = with_mounting(
        fan, fan.mountings[0].name, lambda r: replace(r, beside=Beside(pwm_frequency=frequency))
    )
    said = of_rule(told, 21)
    assert bool(said) is found
    assert all("kHz in" in each.found for each in said)


def test_two_files_that_were_exchanged(clean: Reviewed) -> None:
    fan = clean.facts["Sedge"]

    def exchanged(mounting: MountingFacts) -> MountingFacts:
        if mounting.name != "Sedge-s1-m2":
            return mounting
        runs = list(mounting.runs)
        one, other = 1, 3
        told = [(runs[i].setting, runs[i].setting_word) for i in (other, one)]
        for i, (setting, word) in zip((one, other), told, strict=True):
            runs[i] = replace(runs[i], setting=setting, setting_word=word)
        return replace(mounting, runs=tuple(runs))

    swapped = with_mountings(fan, exchanged)
    (found,) = [each for each in check_fan(swapped) if each.blocks]
    assert found.subject == "mounting:Sedge-s1-m2"
    assert "exchanged" in found.cause
    first = replace(swapped, mountings=tuple(m for m in swapped.mountings if m.name == "Sedge-s1-m2"))
    assert any("exchanged" in each.cause for each in check_fan(alone(first)) if each.blocks)


# --- 26: zeros of whole mountings and sweeps -------------------------------------------------------------------


def test_a_zero_that_is_off_in_a_whole_mounting_is_told_in_pascals(clean: Reviewed) -> None:
    fan = with_mounting(clean.facts["Sedge"], "Sedge-s1-m2", pressure_plus(0.8))
    (found,) = of_rule(fan, 26)
    assert found.subject == "mounting:Sedge-s1-m2"
    assert float(found.cause.split("reads ")[1].split(" Pa")[0]) == pytest.approx(0.8, abs=0.15)
    assert "too high" in found.cause


# --- 24: nozzles in one mounting alone -------------------------------------------------------------------------


def listed_as(fan: FanFacts, names: dict[str, str], without: str = "") -> FanFacts:
    """One mounting whose lists name other nozzles than those that were open; points with one left out."""
    bores = fan.mountings[0].bores

    def mistaken(run: RunFacts) -> RunFacts:
        kept = points(run, np.array([without not in each for each in run.nozzles]))
        told = tuple(tuple(names.get(name, name) for name in each) for each in kept.nozzles)
        true, taken = (np.array([sum(bores[name] ** 2 for name in each) or 1.0 for each in lists])
                       for lists in (kept.nozzles, told))  # fmt: skip
        return replace(flow_times(taken / true)(kept), nozzles=told)

    return with_mounting(fan, "Sedge-s1-m2", mistaken)


def test_nozzles_under_each_others_names(clean: Reviewed) -> None:
    fan = listed_as(clean.facts["Sedge"], {"N12": "N16", "N16": "N12"})
    (found,) = [each for each in check_fan(fan) if each.blocks]
    assert found.subject == "mounting:Sedge-s1-m2"
    assert "nozzles N12 and N16 are exchanged in the list" in found.cause


def test_a_nozzle_where_another_is_listed_is_named(clean: Reviewed) -> None:
    fan = listed_as(clean.facts["Sedge"], {"N12": "N16"}, without="N16")
    (found,) = [each for each in check_fan(fan) if each.blocks]
    assert found.subject == "mounting:Sedge-s1-m2"
    assert "nozzle N12 was open where N16 is listed" in found.cause


@pytest.mark.parametrize(
    ("flow", "words"),
    [
        # one pattern in all points: factors of the areas of bores 12.003, 25.006 and 40.012 mm
        ((12.003**2 + 40.012**2) / 40.012**2, "nozzle N12 is listed open but is plugged"),
        (40.012**2 / (25.006**2 + 40.012**2), "nozzle N25 is open but not listed"),
        (40.012**2 / 25.006**2, "nozzle N25 was open where N40 is listed"),
    ],
)
def test_one_factor_of_flow_at_all_points_names_the_nozzle(flow: float, words: str) -> None:
    bores = {"N12": 12.003, "N16": 15.998, "N25": 25.006, "N40": 40.012, "N60": 59.991}
    pattern = ("N12", "N40") if "N12" in words else ("N40",)
    said = named_nozzle(flow, Bank(bores, (pattern,)))
    assert said is not None
    assert words in said.cause
    assert named_nozzle(1.03, Bank(bores, (pattern,))) is None
    assert named_nozzle(flow, Bank(bores, (pattern, ("N60",)))) is None


# --- 44, 20: sizes, with nothing else to hold a mounting against ------------------------------------------------


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (flow_times(0.58858), "in CFM and was read as m³/h"),
        (flow_times(1.69901), "in m³/h and was read as CFM"),
        (flow_times(1 / 3.6), "in l/s and was read as m³/h"),
        (pressure_times(0.101972), "in mmH₂O and was read as Pa"),
        (pressure_times(9.80665), "in Pa and was read as mmH₂O"),
        (pressure_times(1 / 249.08891), "in inH₂O and was read as Pa"),
        (pressure_times(0.01), "in hPa and was read as Pa"),
        (speed_times(2.0), "speed reads twice"),
        (speed_times(0.5), "speed reads half"),
        (speed_times(3.0), "speed reads three times"),
    ],
)
@pytest.mark.parametrize("name", ["Bracken", "Tormentil", "Bilberry", "Asphodel", "Sedge"])
def test_the_first_fan_ever_is_held_against_what_such_fans_do(
    clean: Reviewed, change: object, words: str, name: str
) -> None:
    fan = alone(clean.facts[name])
    assert of_rule(fan, 20) == of_rule(fan, 44) == []
    wrong = with_mounting(fan, fan.mountings[0].name, change)  # type: ignore[arg-type]
    (found,) = [
        each for each in check_fan(wrong) if each.rule in (20, 44) and each.subject.startswith("mounting")
    ]
    assert words in found.cause
    one = replace(wrong, mountings=(replace(wrong.mountings[0], runs=wrong.mountings[0].runs[-1:]),))
    assert any(words in each.cause for each in check_fan(one) if each.rule in (20, 44))


def test_a_wrong_size_is_told(clean: Reviewed) -> None:
    """A fan of 140 mm in a lab that takes it for 120 mm: φ ∝ 1/D³, ψ ∝ 1/D²."""
    fan = alone(clean.facts["Bracken"])
    assert fan.record is not None
    wrong = with_mountings(
        replace(fan, record=replace(fan.record, size=0.09)), lambda each: replace(each, diameter=0.09)
    )
    (found,) = of_rule(wrong, 44)
    assert "the fan is of 120 mm and was taken for 90 mm" in found.cause


def test_pressure_columns_that_are_swapped(clean: Reviewed) -> None:
    fan = changed_run(clean.facts["Bracken"], lambda run: replace(run, pressure=run.pressure[::-1]))
    (found,) = of_rule(fan, 44)
    assert "swapped" in found.cause


# --- 32, 33: operating points ------------------------------------------------------------------------------------


def test_a_fan_that_meets_an_obstacle_several_times_is_marked_with_all_points(clean: Reviewed) -> None:
    found = [each for each in of_rule(clean.facts["Asphodel"], 32) if "dense" in each.subject]
    (one,) = found
    assert "several times" in one.found
    assert one.found.count(",") >= 2
    assert not one.blocks
    assert of_rule(replace(clean.facts["Asphodel"], obstacles=()), 32) == []


def test_an_operating_point_outside_the_readings_blocks_only_what_goes_through_it(clean: Reviewed) -> None:
    fan = clean.facts["Bracken"]
    mesh = next(each for each in fan.obstacles if each.name.startswith("mesh"))
    assert mesh.resistance is not None
    open_ = replace(mesh, resistance=replace(mesh.resistance, central=-0.6 * mesh.resistance.central))
    found = of_rule(replace(fan, obstacles=(open_,)), 32)
    assert len(found) == len(fan.mountings)
    assert all(each.blocks and each.through == mesh.name and each.mountings for each in found)


def test_kept_values_with_telling_marks_are_told(clean: Reviewed) -> None:
    fan = clean.facts["Bracken"]
    kept = Published("rad27@v1+mesh@v1", "airflow obstacle rad27+mesh", ("extrapolated",))
    (found,) = of_rule(replace(fan, published=(kept,), obstacles=()), 32)
    assert found.blocks
    assert "extrapolated" in found.found


def test_an_obstacle_that_was_measured_long_ago(clean: Reviewed) -> None:
    fan = clean.facts["Bracken"]
    assert of_rule(fan, 33) == []
    old = tuple(replace(each, date="2025-08-01") for each in fan.obstacles)
    dated = with_mountings(replace(fan, obstacles=old), lambda each: replace(each, date="2026-03-05"))
    assert len(of_rule(dated, 33)) == len(fan.obstacles)


# --- 27, 39: sweeps at one setting ----------------------------------------------------------------------------------


def repeated(fan: FanFacts, factor: float, direction: str = "") -> FanFacts:
    def once_more(mounting: MountingFacts) -> MountingFacts:
        first = mounting.runs[-1]
        offset = replace(first.check.flow_offset, value=first.check.flow_offset.value + np.log(factor))
        last = replace(first, run="again", moment="~", check=replace(first.check, flow_offset=offset))
        pair = (
            (replace(first, direction="up"), replace(last, direction=direction))
            if direction
            else (first, last)
        )
        return replace(mounting, runs=(*mounting.runs[:-1], *pair))

    return with_mountings(fan, once_more)


def test_a_setting_that_does_not_repeat_blocks_and_none_at_all_marks(clean: Reviewed) -> None:
    fan = clean.facts["Bracken"]
    assert severities(fan, 39) == ["W"]
    assert severities(repeated(fan, 1.004), 39) == []
    assert set(severities(repeated(fan, 1.03), 39)) == {"B"}
    assert severities(repeated(fan, 1.03, direction="down"), 39) == ["W"]  # no repeat: two directions


def test_rising_and_falling_flow_that_differ_in_the_stall(clean: Reviewed) -> None:
    fan = repeated(clean.facts["Bracken"], 1.0, direction="down")
    assert of_rule(fan, 27) == []

    def other_branch(run: RunFacts) -> RunFacts:
        here = (run.phi > 0.25 * run.phi.max()) & (run.phi < 0.6 * run.phi.max())
        return replace(run, psi=np.where(here, run.psi * 1.1, run.psi)) if run.direction == "down" else run

    found = of_rule(with_mounting(fan, fan.mountings[0].name, other_branch), 27)
    assert any("hysteresis" in each.cause for each in found)


# --- 1, 25, 40, 46: records ----------------------------------------------------------------------------------------


def test_the_same_readings_in_two_files(clean: Reviewed) -> None:
    one, other = clean.facts["Bracken"].mountings[:2]
    prints = [*prints_of(one), *prints_of(other)]
    order = {each.run: str(i) for i, each in enumerate(prints)}
    assert check_copies(prints, order) == []
    copy = replace(
        prints[-1], readings=prints[0].readings, whole=prints[0].whole, fan="Bracken", subject=other.name
    )
    (found,) = check_copies([*prints[:-1], copy], order)
    assert found.subject == f"run:{copy.run}"
    assert "copy of the other" in found.cause
    pasted = replace(copy, whole="other speeds")
    (found,) = check_copies([*prints[:-1], pasted], order)
    assert "copied under another setting" in found.cause


def rig(**changed: object) -> RigFacts:
    uses = (("2026-03-05", "A-s1-m1", "A", "k1"), ("2026-04-10", "A-s1-m2", "A", "k2"))
    return replace(RigFacts(name="chamber", tests=(("2026-03-02", None),), uses=uses), **changed)  # type: ignore[arg-type]


def test_leak_tests_of_a_chamber() -> None:
    (old,) = check_rigs([rig()], Limits())
    assert old.blocks
    assert old.mountings == ("A-s1-m2",)
    assert "39 days" in old.found
    (none,) = check_rigs([rig(tests=())], Limits())
    assert not none.blocks
    assert check_rigs([rig(tests=(("2026-03-02", None), ("2026-04-09", None)))], Limits()) == []
    tight, leaking = (
        rig(tests=(("2026-03-02", leak), ("2026-04-09", leak)), smallest=10 / 3600) for leak in (1e-5, 1e-4)
    )
    assert check_rigs([tight], Limits()) == []
    (found,) = check_rigs([leaking], Limits())
    assert "3.6 % of the smallest flow" in found.found


def test_a_contender_is_asked_for_three_mountings(clean: Reviewed) -> None:
    fan = clean.facts["Asphodel"]
    assert of_rule(fan, 40) == []
    (found,) = of_rule(replace(fan, contends=True), 40)
    assert "contends for the lead" in found.found
    assert "3 mountings" in found.expected


def test_exclusions_are_looked_at_themselves(clean: Reviewed) -> None:
    fan = clean.facts["Bracken"]
    sound = Decision(finding="12345678", rule="29", subject="run:abc", key="k", action="exclude", reason="seen",
                     by="K. T.", time="2026-03-12T10:00:00", after_ranking=False)  # fmt: skip
    for decision, found in ((sound, []), (replace(sound, after_ranking=True), ["W"]),
                            (replace(sound, reason=" "), ["B"]), (replace(sound, by=""), ["B"])):  # fmt: skip
        assert severities(replace(fan, exclusions=(decision,)), 46) == found


def test_a_limit_of_the_labs_own_is_told_beside_the_finding(clean: Reviewed) -> None:
    fan = changed_run(clean.facts["Bracken"], read_as("voltage", lambda run: np.full(len(run.flow), 11.85)))
    (usual,) = of_rule(fan, 21)
    assert "limit of this lab" not in usual.expected
    assert of_rule(replace(fan, limits=Limits(supply_voltage=0.2)), 21) == []
    (changed,) = of_rule(replace(fan, limits=Limits(supply_voltage=0.12)), 21)
    assert "limit of this lab; supply from 12 V: 0.12 V, usually 0.1 V" in changed.expected


def test_speeds_agree_between_mountings_of_one_sample(clean: Reviewed) -> None:
    one, other = clean.facts["Sedge"].mountings[:2]
    assert all(abs(each - 1.0) < 0.01 for each in ratios(one, other))
