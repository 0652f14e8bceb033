"""Whether each fault sits where the truth says, does what it says, and touches nothing else."""

import math
from statistics import fmean

import pytest
from inverted import Lab, known_samples, read_table, rows_of, true_state, undone

from stillroom.demo.plan import LEAK_AREA
from stillroom.demo.truth import Fault, Truth


def test_nothing_but_the_faults_differs_from_a_clean_laboratory(lab: Lab, clean: Lab) -> None:
    folder, truth = lab
    told = {file for fault in truth.faults for file in fault.files} | {"claims.csv"}
    names = [path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()]
    differing = {name for name in names if (folder / name).read_bytes() != (clean[0] / name).read_bytes()}
    assert differing == told
    assert clean[1].faults == () == clean[1].false_claims


def the(truth: Truth, name: str) -> Fault:
    return next(fault for fault in truth.faults if fault.name == name)


def ratios(lab: Lab, clean: Lab, file: str, quantity: str) -> list[float]:
    pairs = zip(rows_of(lab[0], file), rows_of(clean[0], file), strict=True)
    return [
        float(bad[quantity]) / float(good[quantity]) for bad, good in pairs if float(good[quantity]) > 1e-4
    ]


@pytest.mark.parametrize(
    ("name", "factor", "count", "rel"),
    [
        ("wrong pulses", 2.0, 6, 1e-3),
        ("mmH₂O as Pa", 1 / 9.80665, 1, 0.02),
        ("CFM as m³/h", 1 / 1.699011, 1, 2e-3),
    ],
)
def test_a_factor_on_one_column(
    lab: Lab, clean: Lab, name: str, factor: float, count: int, rel: float
) -> None:
    fault = the(lab[1], name)
    assert fault.factor == pytest.approx(factor, rel=1e-6)
    assert len(fault.files) == count
    for file in fault.files:
        found = ratios(lab, clean, file, fault.quantity)
        assert len(found) >= 11
        assert found[:9] == pytest.approx([factor] * 9, rel=rel)


def test_a_plugged_nozzle_reads_high_wherever_it_is_listed(lab: Lab) -> None:
    folder, truth = lab
    fault = the(truth, "plugged nozzle")
    fan = known_samples()[fault.fan, fault.sample]
    assert len(fault.files) == 6
    listed = []
    for row in [row for file in fault.files for row in rows_of(folder, file)]:
        struck = row | {"nozzles": str(row["nozzles"]).replace("N12+", "")}
        (as_listed, pressure, air), (flow, _, _) = true_state(truth, row), true_state(truth, struck)
        speed = undone(truth, row, "speed")
        right = fan.pressure(flow / fan.flow(1.0, speed), speed, air.density)
        assert pressure == pytest.approx(right, abs=0.25 + 0.02 * fan.pressure(0.0, speed))
        if row != struck:
            listed.append(as_listed / flow)
    # the share of N12's area to N40's is 9 %, a little less by its coefficient
    assert len(listed) > 30
    assert listed == pytest.approx(
        [1 + (truth.bores["N12"] / truth.bores["N40"]) ** 2] * len(listed), abs=0.01
    )


def test_a_leak_lowers_the_shut_off_and_the_flow_under_pressure(lab: Lab, clean: Lab) -> None:
    fault = the(lab[1], "leak")
    fan = known_samples()[fault.fan, fault.sample]
    rows = rows_of(lab[0], fault.files[-1])
    for row in rows[6:-1]:  # beyond the dip, where a pressure stands for one flow
        flow, pressure, air = true_state(lab[1], row)
        speed = undone(lab[1], row, "speed")
        q = max(k / 1000 for k in range(1001) if fan.pressure(k / 1000, speed, air.density) >= pressure)
        escaped = LEAK_AREA * math.sqrt(2 * pressure / air.density)
        assert fan.flow(q, speed) - flow == pytest.approx(escaped, abs=0.02 * fan.flow(1.0, speed))
        assert escaped > 0.015 * flow
    full = [rows_of(each[0], fault.files[-1])[0] for each in (lab, clean)]
    assert float(full[0]["static_pressure"]) < 0.99 * float(full[1]["static_pressure"])
    events = read_table(lab[0] / "events.csv")
    seal = next(row for row in events if "seal" in row["text"])
    assert seal["changes results"] == "yes"
    later = [
        row["mounting"] for row in read_table(lab[0] / "mountings.csv") if row["date"] >= seal["time"][:10]
    ]
    assert later == [fault.mounting]


def test_the_second_sample_is_really_the_first(lab: Lab) -> None:
    folder, truth = lab
    fault = the(truth, "wrong sample")

    def speeds(file: str) -> list[float]:
        return [float(row["speed"]) for row in rows_of(folder, file)]

    for file in fault.files:
        written, first, second = (
            fmean(speeds(file.replace("s2/m2", place))) for place in ("s2/m2", "s1/m1", "s2/m1")
        )
        assert written == pytest.approx(first, rel=2e-3)
        assert abs(written / second - 1) > 0.01


def test_a_speed_that_drifts_unseen(lab: Lab, clean: Lab) -> None:
    fault = the(lab[1], "drifting speed")
    (file,) = fault.files
    assert ratios(lab, clean, file, "speed") == [1.0] * 12
    flows = [
        true_state(lab[1], bad)[0] / true_state(clean[1], good)[0]
        for bad, good in zip(rows_of(lab[0], file), rows_of(clean[0], file), strict=True)
        if good["nozzles"] != "none"
    ]
    assert flows[-1] == pytest.approx(0.95, abs=0.01)
    assert flows[0] == pytest.approx(1.0, abs=0.02)


def test_every_fault_leaves_its_fan_good_mountings(lab: Lab) -> None:
    folder, truth = lab
    assert len({fault.name for fault in truth.faults}) == len(truth.faults) == 7
    bad = {file for fault in truth.faults for file in fault.files}
    runs = [run for run in read_table(folder / "runs.csv") if run["fan"] and run["rig"] == "chamber"]
    for fan in {run["fan"] for run in runs}:
        whole = {run["mounting"] for run in runs if run["fan"] == fan}
        good = {m for m in whole if sum(r["mounting"] == m and r["file"] not in bad for r in runs) >= 5}
        assert len(good) >= 2, fan
        first = next(run["mounting"] for run in runs if run["fan"] == fan)
        assert not any(run["file"] in bad for run in runs if run["mounting"] == first)


def test_the_false_claim_is_far_too_high_and_the_fan_has_two_samples(lab: Lab) -> None:
    folder, truth = lab
    (claim,) = truth.false_claims
    assert claim.claimed / claim.true > 1.1
    assert claim.true == pytest.approx(truth.fan(claim.fan).free_airflow)
    bought = [row["sample"] for row in read_table(folder / "samples.csv") if row["fan"] == claim.fan]
    assert bought == ["s1", "s2"]
