"""Each fault of the demo's heat rig is found where it is, with its cause, and nothing else is held up."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from judged import Judged, judge

from stillroom.core.heat.flow_law import Label, fit_flow_law
from stillroom.demo.truth import Fault
from stillroom.demo.write import write_exports
from stillroom.lab.eras.eras import Era
from stillroom.lab.facts import heat_law_facts
from stillroom.lab.facts.instrument_facts import instrument_facts
from stillroom.lab.heat.laws import RigLaw
from stillroom.methods.heat.law import points_of
from stillroom.quality import Finding, check_instruments
from stillroom.quality.heat import check_law
from stillroom.store.lab import Lab

Warmed = tuple[Judged, tuple[Fault, ...]]


def right(lab: Judged, fault: Fault) -> list[Finding]:
    """What was found of a fault."""
    return [
        each
        for each in lab.findings
        if each.rule == fault.rule
        and fault.words in f"{each.cause} {each.found}"
        and each.subject == f"mounting:{fault.mounting}"
    ]


def blocking(lab: Judged) -> list[str]:
    return [f"rule {e.rule} {e.subject}: {e.found}: {e.cause}" for e in lab.findings if e.blocks]


def warmed(base: Path, *, full: bool, faults: bool = True) -> Warmed:
    """A round's heat rig, without the chamber's fans."""
    truth = write_exports(base / "files", full=full, heat=True, faults=faults)
    for folder in (base / "files" / "exports").iterdir():
        if folder.name not in {"heat-rig", "obstacles"}:
            shutil.rmtree(folder)
    own = tuple(each for each in truth.faults if "heat-rig" in str(each.files))
    return judge(base, base / "files"), own


@pytest.fixture(scope="module")
def short(tmp_path_factory: pytest.TempPathFactory) -> Warmed:
    return warmed(tmp_path_factory.mktemp("short"), full=False)


def test_each_fault_of_the_short_round_is_found(short: Warmed) -> None:
    lab, faults = short
    assert sorted(each.rule for each in faults) == [34, 35, 35]
    for fault in faults:
        assert right(lab, fault), (fault.name, blocking(lab))


def test_nothing_else_is_held_up(short: Warmed) -> None:
    lab, faults = short
    known = {each.id for fault in faults for each in right(lab, fault)}
    others = [each for each in lab.findings if each.blocks and each.id not in known]
    assert not others, blocking(lab)


@pytest.mark.slow
def test_each_fault_of_the_full_round_is_found(tmp_path: Path) -> None:
    lab, faults = warmed(tmp_path, full=True)
    assert sorted(each.rule for each in faults) == [20, 34, 35, 35, 36, 38, 38, 38, 52]
    # what only the chamber's speeds can tell is held in test_heat_rules
    missing = [each.name for each in faults if each.rule != 20 and not right(lab, each)]
    assert not missing, blocking(lab)
    touched = {f"mounting:{each.mounting}" for each in faults}
    low = {each.subject for each in lab.findings if each.rule == 38}  # the reference fan's, on the same days
    others = [each for each in lab.findings if each.blocks and each.subject not in touched | low]
    assert not others, blocking(lab)


@pytest.mark.slow
def test_a_full_round_without_faults_blocks_nothing(tmp_path: Path) -> None:
    lab, faults = warmed(tmp_path, full=True, faults=False)
    assert faults == ()
    assert blocking(lab) == []


def test_a_heat_instrument_past_due_blocks_the_heat_that_it_read(short: Warmed) -> None:
    lab, _ = short
    used = {name for node in lab.graph.heats for log in node.logs for name in log.calibrations.values()}
    late = {
        name: replace(each, due="2026-03-08") if name in used else each
        for name, each in lab.book.calibrations.items()
    }
    book = replace(lab.book, calibrations=late)
    several = [each for each in check_instruments(instrument_facts(book, lab.graph)) if each.blocks]
    assert {each.rule for each in several} == {2}
    blocked = {name for each in several for name in each.mountings}
    assert "heat of Sedge-s1-h1" in blocked
    assert "heat of Bracken-s1-h1" not in blocked  # run on 2026-03-06
    assert all(not each.blocks for each in check_instruments(instrument_facts(lab.book, lab.graph)))


def law_off(lab: Judged, from_day: str, share: float) -> RigLaw:
    """A law of the lab's heat mountings, all warmer by a share from a day on."""
    rng = np.random.default_rng(1)
    rows, labels = [], []
    top = {fan: 0.018 + 0.003 * i for i, fan in enumerate(sorted({each.fan for each in lab.graph.heats}))}
    for node in lab.graph.heats:
        for step, part in enumerate((1.0, 0.75, 0.55), 1):
            flow = top[node.fan] * part
            value = (0.018 + 0.022 * (flow / 0.012) ** -0.5) * (1.0 + 0.003 * rng.standard_normal())
            rows.append((flow, value * (1.0 + share * (node.date[:10] >= from_day))))
            labels.append(Label(node.fan, node.subject, "", node.date[:10], step))
    flows, values = np.array(rows).T
    law = fit_flow_law(flows, 0.005 * flows, values, 0.001 * values, labels)
    return RigLaw(Era("heat-1", 1), "rad27", "key", law, points_of(law), {})


def test_all_fans_warmer_from_a_day_on_are_one_finding_of_the_rig(
    short: Warmed, monkeypatch: pytest.MonkeyPatch
) -> None:
    lab, _ = short
    monkeypatch.setattr(
        heat_law_facts, "flow_laws", lambda *_: {"heat-1, era 1": law_off(lab, "2026-03-09", 0.06)}
    )
    with Lab(lab.path) as opened:
        ((rig, facts),) = heat_law_facts.law_facts(opened, lab.book, lab.graph, [])
    found = check_law(rig, facts, lab.book.settings.limits)
    (since,) = [each for each in found if "2026-03-09" in each.found]
    assert since.rule == 29
    assert "all fans from 2026-03-09 on" in since.found
    assert "warmer on heat-1" in since.found
    assert "the heat rig" in since.expected
    assert "coolant's flow" in since.cause
    assert len(since.fans) >= 4


def test_a_law_that_nothing_leaves_finds_nothing(short: Warmed, monkeypatch: pytest.MonkeyPatch) -> None:
    lab, _ = short
    monkeypatch.setattr(
        heat_law_facts, "flow_laws", lambda *_: {"heat-1, era 1": law_off(lab, "2026-03-09", 0.0)}
    )
    with Lab(lab.path) as opened:
        assert list(heat_law_facts.law_facts(opened, lab.book, lab.graph, [])) == []
