"""Each rule on facts in which one thing was changed: what it says, and that it says nothing before."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from reviewed import Reviewed

from stillroom.quality import RULES, Finding, Severity, check_boxes, check_fan, check_instruments
from stillroom.quality.causes import CATALOGUE, cause_of
from stillroom.quality.facts import ClaimFacts, FanFacts, InstrumentFacts, MountingFacts, RunFacts
from stillroom.quality.readings import _throat
from stillroom.records.limits import Limits
from stillroom.records.products import Claim, Price

Change = Callable[[RunFacts], RunFacts]


def with_mounting(fan: FanFacts, name: str, change: Change) -> FanFacts:
    """The fan with all runs of one mounting changed."""
    return with_mountings(
        fan, lambda each: replace(each, runs=tuple(map(change, each.runs))) if each.name == name else each
    )


def with_mountings(fan: FanFacts, change: Callable[[MountingFacts], MountingFacts]) -> FanFacts:
    return replace(fan, mountings=tuple(map(change, fan.mountings)))


def flow_times(factor: float | np.ndarray) -> Change:
    return lambda run: replace(run, flow=run.flow * factor, phi=run.phi * factor)


def of_rule(fan: FanFacts, rule: int) -> list[Finding]:
    return [each for each in check_fan(fan) if each.rule == rule]


def test_rules_have_numbers_and_names_of_their_own() -> None:
    assert len({each.number for each in RULES}) == len({each.name for each in RULES}) == len(RULES)
    assert all(" " not in each.name and each.source and each.limit for each in RULES)


# --- causes ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("quantity", "ratio", "words"),
    [
        # 1 ft = 0.3048 m exactly, an hour has 60 minutes: 1/(60 · 0.3048³) = 0.58858
        ("flow", 0.58858, "in CFM and was read as m³/h"),
        ("flow", 1.69901, "in m³/h and was read as CFM"),
        # NIST SP 811 (2008), Appendix B.8: conventional mmH₂O = 9.80665 Pa
        ("pressure", 0.101972, "in mmH₂O and was read as Pa"),
        ("pressure", 9.80665, "in Pa and was read as mmH₂O"),
        ("speed", 2.0, "twice"),
        ("speed", 1 / 3, "a third"),
    ],
)
def test_a_ratio_names_its_cause_within_3_percent(quantity: str, ratio: float, words: str) -> None:
    for factor in (0.972, 1.0, 1.028):
        found = cause_of(quantity, ratio * factor)
        assert found is not None
        assert words in found.words
    assert cause_of(quantity, ratio * 1.04) is None


def test_every_cause_has_a_test_at_the_rig() -> None:
    assert all(each.test and each.words for each in CATALOGUE)


# --- between mountings -----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["Sedge-s1-m1", "Sedge-s1-m2", "Sedge-s1-m3"])
def test_a_whole_mounting_in_cfm_is_named(clean: Reviewed, name: str) -> None:
    (found,) = of_rule(with_mounting(clean.facts["Sedge"], name, flow_times(0.58858)), 29)
    assert found.subject == f"mounting:{name}"
    assert "in CFM and was read as m³/h" in found.cause
    assert found.mountings == (name,)


def test_an_open_nozzle_that_is_not_listed_is_named(clean: Reviewed) -> None:
    """N16 stands open all the time: the listed area is too small wherever others are listed without it."""
    sedge = clean.facts["Sedge"]
    bores = sedge.mountings[0].bores

    def unlisted(run: RunFacts) -> RunFacts:
        area = np.array([sum(bores[each] ** 2 for each in names) for names in run.nozzles])
        extra = np.array(
            [bores["N16"] ** 2 if names and "N16" not in names else 0.0 for names in run.nozzles]
        )
        read = np.divide(area, area + extra, out=np.ones_like(area), where=area > 0.0)
        return flow_times(read)(run)

    (found,) = of_rule(with_mounting(sedge, "Sedge-s1-m2", unlisted), 24)
    assert found.subject == "mounting:Sedge-s1-m2"
    assert "N16 is open but not listed" in found.cause


def test_a_wrong_bore_is_named_with_the_bore_that_would_fit(clean: Reviewed) -> None:
    """N25's certificate was read 3 % too large: 25.76 for 25.01 mm."""
    sedge = clean.facts["Sedge"]
    bores = sedge.mountings[0].bores

    def too_large(run: RunFacts) -> RunFacts:
        true, taken = (
            np.array([sum((bores[each] * (factor if each == "N25" else 1.0)) ** 2 for each in names) or 1.0
                      for names in run.nozzles])
            for factor in (1.0, 1.03)
        )  # fmt: skip
        return flow_times(taken / true)(run)

    def certificate(mounting: MountingFacts) -> MountingFacts:
        if mounting.name != "Sedge-s1-m2":
            return mounting
        changed = replace(mounting, bores={**bores, "N25": bores["N25"] * 1.03})
        return replace(changed, runs=tuple(map(too_large, changed.runs)))

    (found,) = of_rule(with_mountings(sedge, certificate), 24)
    assert found.subject == "mounting:Sedge-s1-m2"
    assert "bore of nozzle N25 is wrong" in found.cause
    fitting = float(found.cause.split("wrong: ")[1].split(" mm")[0])
    assert fitting == pytest.approx(25.006, rel=0.005)


def test_replicates_that_disagree_block_both_of_two_and_one_of_three(clean: Reviewed) -> None:
    apart = flow_times(1.05)
    two = of_rule(with_mounting(clean.facts["Asphodel"], "Asphodel-s1-m2", apart), 41)
    assert {each.subject for each in two} == {"mounting:Asphodel-s1-m1", "mounting:Asphodel-s1-m2"}
    assert all(each.blocks and each.cause.startswith("one of") for each in two)
    three = of_rule(with_mounting(clean.facts["Sedge"], "Sedge-s1-m3", apart), 41)
    assert {each.subject for each in three} == {"mounting:Sedge-s1-m3"}


@pytest.mark.parametrize("factor", [0.5, 1.5, 3.0])
def test_the_box_says_which_of_two_has_the_wrong_pulses(clean: Reviewed, factor: float) -> None:
    def wrong(run: RunFacts) -> RunFacts:
        assert run.speed is not None
        return replace(run, speed=run.speed * factor, phi=run.phi / factor, psi=run.psi / factor**2)

    fan = clean.facts["Asphodel"]
    for name in ("Asphodel-s1-m1", "Asphodel-s1-m2"):
        (found,) = of_rule(with_mounting(fan, name, wrong), 20)
        assert found.subject == f"mounting:{name}"
        assert "wrong pulses per revolution" in found.cause
    boxless = with_mounting(replace(fan, record=None), "Asphodel-s1-m1", wrong)
    assert all("nothing here decides" in each.cause for each in of_rule(boxless, 20))
    assert len(of_rule(boxless, 20)) == 2


def test_one_mounting_alone_is_held_against_the_box(clean: Reviewed) -> None:
    fan = clean.facts["Asphodel"]
    alone = replace(fan, mountings=fan.mountings[:1])
    assert of_rule(alone, 20) == []
    doubled = with_mounting(
        alone,
        fan.mountings[0].name,
        lambda run: replace(run, speed=None if run.speed is None else run.speed * 2.0),
    )
    (found,) = of_rule(doubled, 20)
    assert "what the box says" in found.found


# --- runs ------------------------------------------------------------------------------------------------


def changed_run(fan: FanFacts, change: Change, which: int = -1) -> FanFacts:
    """The fan with one run of its first mounting changed."""

    def of_first(mounting: MountingFacts) -> MountingFacts:
        if mounting.name != fan.mountings[0].name:
            return mounting
        runs = list(mounting.runs)
        runs[which] = change(runs[which])
        return replace(mounting, runs=tuple(runs))

    return with_mountings(fan, of_first)


def read_as(name: str, values: Callable[[RunFacts], np.ndarray]) -> Change:
    return lambda run: replace(run, read={**run.read, name: values(run)})


@pytest.mark.parametrize(("volts", "severity"), [(12.05, None), (11.8, "W"), (11.2, "B")])
def test_supply_voltage(clean: Reviewed, volts: float, severity: str | None) -> None:
    fan = changed_run(clean.facts["Bracken"], read_as("voltage", lambda run: np.full(len(run.flow), volts)))
    assert [each.severity.value for each in of_rule(fan, 21)] == ([severity] if severity else [])
    assert fan.record is not None
    three_wires = replace(fan, record=replace(fan.record, wires=3))
    assert of_rule(three_wires, 21) == []


@pytest.mark.parametrize(("factor", "found"), [(1.004, False), (1.006, True), (2.0, True)])
def test_tachometer_against_optical(clean: Reviewed, factor: float, found: bool) -> None:
    def optical(run: RunFacts) -> np.ndarray:
        assert run.speed is not None
        return run.speed / factor

    fan = changed_run(clean.facts["Bracken"], read_as("optical_speed", optical))
    said = of_rule(fan, 20)
    assert bool(said) == found
    assert all(each.subject.startswith("run:") and each.blocks for each in said)


@pytest.mark.parametrize(("points", "severity"), [(0, None), (2, "W"), (4, "B")])
def test_pressure_across_the_nozzles(clean: Reviewed, points: int, severity: str | None) -> None:
    def low(run: RunFacts) -> np.ndarray:
        drop = np.maximum(run.read["nozzle_pressure"], 30.0)
        drop[1 : 1 + points] = 15.0
        return drop

    fan = changed_run(clean.facts["Bracken"], read_as("nozzle_pressure", low))
    assert [each.severity.value for each in of_rule(fan, 22)] == ([severity] if severity else [])


@pytest.mark.parametrize(("share", "severity"), [(1.0, None), (0.2, "B")])
def test_a_nozzle_far_below_its_range_blocks(clean: Reviewed, share: float, severity: str | None) -> None:
    """Re = 4ρQ/(πμd) of one nozzle in closed form; of several all throats have one velocity."""
    fan = changed_run(clean.facts["Bracken"], lambda run: replace(run, flow=share * run.flow))
    said = [each for each in of_rule(fan, 23) if each.subject.startswith("run:")]
    assert [each.severity.value for each in said] == ([severity] if severity else [])
    one = 0.95 * np.pi / 4.0 * 0.02**2 * 5.0  # 5 m/s in the throat of 20 mm
    assert _throat(one, [0.02], 1.2) == pytest.approx(1.2 * 5.0 * 0.02 / 1.819e-5)
    assert _throat(2.0 * one, [0.02, 0.02], 1.2) == pytest.approx(_throat(one, [0.02], 1.2))


def test_readings_beyond_a_calibration_are_marked(clean: Reviewed) -> None:
    words = "gauge read beyond its calibration"
    fan = changed_run(clean.facts["Bracken"], lambda run: replace(run, marks=(*run.marks, words)))
    (found,) = of_rule(fan, 2)
    assert words in found.found
    assert not found.blocks


def test_an_efficiency_that_no_such_fan_has(clean: Reviewed) -> None:
    fan = clean.facts["Bracken"]
    assert of_rule(changed_run(fan, lambda run: replace(run, efficiency=0.449)), 44) == []
    (found,) = of_rule(changed_run(fan, lambda run: replace(run, efficiency=0.46)), 44)
    assert found.blocks


def test_power_that_falls_while_the_speed_rises(clean: Reviewed) -> None:
    def halved(run: RunFacts) -> RunFacts:
        assert run.power is not None
        return replace(run, power=run.power / 2.0)

    (found,) = of_rule(changed_run(clean.facts["Bracken"], halved), 44)
    assert "power falls" in found.found


def test_sweeps_with_few_points_or_a_gap(clean: Reviewed) -> None:
    fan = clean.facts["Bracken"]
    assert of_rule(fan, 28) == []
    for keep, words in ((slice(0, 7), "7 points"), (slice(4, None), "none near shut-off"),
                        (slice(0, 9), "none near free delivery")):  # fmt: skip
        few = changed_run(
            fan, lambda run, keep=keep: replace(run, flow=run.flow[keep], pressure=run.pressure[keep])
        )
        (found,) = [each for m in few.mountings[:1] for each in _few(few) if each.subject == m.subject]
        assert words in found.found


def _few(fan: FanFacts) -> list[Finding]:
    from stillroom.quality.registers import few_points

    return list(few_points(fan))


# --- records ---------------------------------------------------------------------------------------------


def test_absence_is_a_mark_and_never_a_block(clean: Reviewed) -> None:
    fan = clean.facts["Bracken"]
    bare = replace(
        fan,
        record=None,
        mountings=tuple(replace(each, registered=False, date="") for each in fan.mountings[:1]),
        prices=(Price(fan="Bracken", price=19.9),),
    )
    found = [each for each in check_fan(bare) if each.rule in {1, 40, 48}]
    assert {each.rule for each in found} == {1, 40, 48}
    assert all(each.severity is Severity.MARKS and each.mountings == () for each in found)
    assert "date or region" in next(each.found for each in found if each.rule == 48)


def told(**changed: object) -> ClaimFacts:
    printed = Claim(
        fan="Bracken", quantity="airflow", value=60.0, unit="CFM", condition="free delivery, 12 V"
    )
    usual = ClaimFacts(
        printed, "flow", outside=True, falls_short=True, ratio=0.95, z=-3.0, samples=2, judged="j"
    )
    return replace(usual, **changed)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changed", "severity"),
    [
        ({"samples": 1}, Severity.BLOCKS),  # a failure by one sample
        ({}, None),  # by two it may be published
        ({"ratio": 0.85}, Severity.MARKS),  # but so far off, the data are looked at once more
        ({"ratio": 1.05, "falls_short": False, "samples": 1}, None),  # more than the box claims is no failure
        ({"ratio": 1.7, "falls_short": False, "samples": 1}, Severity.MARKS),
        ({"ratio": 0.88, "outside": False, "falls_short": False}, Severity.MARKS),  # not surely, but far
        ({"ratio": 0.85, "outside": False, "falls_short": False, "z": -1.9}, None),
    ],
)
def test_a_failure_by_one_sample_blocks_that_sentence_alone(
    changed: dict[str, object], severity: Severity | None
) -> None:
    found = check_boxes([told(**changed)], Limits())
    assert [each.severity for each in found] == ([severity] if severity else [])
    assert all(each.rule == 42 and each.mountings == () and each.fans == ("Bracken",) for each in found)


def test_a_claim_in_the_wrong_unit_is_named() -> None:
    (found,) = check_boxes([told(ratio=0.58858)], Limits())
    assert "in CFM and was read as m³/h, or the box's number" in found.cause


def test_a_claim_whose_condition_is_not_printed_is_not_checkable() -> None:
    (found,) = check_boxes([told(outside=False, why="its setting isn’t printed")], Limits())
    assert (found.rule, found.severity) == (49, Severity.MARKS)
    assert "not checkable: its setting isn’t printed" in found.found


def instrument(**changed: object) -> InstrumentFacts:
    usual = InstrumentFacts("gauge", "gauge@2025-11-17", "2026-03-04", "2026-03-03", True, ("a",), ("A",))
    return replace(usual, **changed)  # type: ignore[arg-type]


def test_calibrations_past_due() -> None:
    assert check_instruments([instrument(), instrument(last="2026-03-04"), instrument(due="")]) == []
    (late,) = check_instruments([instrument(last="2026-03-05")])
    assert late.blocks
    assert late.mountings == ("a",)
    assert late.actions == ("accept", "repeat")
    assert check_instruments([instrument(calibration="", due="")]) == []
    (untold,) = check_instruments([instrument(calibration="", due="", accuracy=False)])
    assert not untold.blocks


def test_a_finding_survives_being_written_down(faulty: Reviewed) -> None:
    for each in faulty.findings:
        assert Finding.from_dict(each.as_dict()) == each
        assert each.as_dict()["id"] == each.id
        assert len(each.id) == 8
