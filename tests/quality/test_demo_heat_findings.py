"""Each fault of the demo's heat rig is found where it is, with its cause, and nothing else is held up."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from judged import Judged, judge

from stillroom.demo.truth import Fault
from stillroom.demo.write import write_exports
from stillroom.quality import Finding

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
