"""A second invented laboratory, made for the tests only: its faults are found too, and little else."""

from __future__ import annotations

from pathlib import Path

import pytest
from judged import Judged, Seeded, judge
from other_lab import write_other_lab

SEED = 77

SEEDED = (
    Seeded("half the pulses", "Thrift/s1/3", None, (20,), "the speed reads half"),
    Seeded("plugged nozzle", "Samphire/s1/3", None, (24,), "nozzle D10 is listed open but is plugged"),
    Seeded("wrong nozzle", "Sandwort/s1/3", None, (24,), "the bore of nozzle D34 is wrong"),
    Seeded("m³/h labelled CFM", "Dulse/s1/3", 0.8, (29, 44), "in m³/h and was read as CFM"),
    Seeded("Pa labelled mmH₂O", "Marram/s2/1", 9.5, (29, 44), "in Pa and was read as mmH₂O"),
    Seeded("speed that rises", "Glasswort/s2/1", 1400 / 60, (19, 29), "the speed drifted within the sweep: it rose"),
    Seeded("wrong sample", "Campion/s3/2", None, (1,), "s2 was mounted under the number of s3"),
    Seeded("exchanged settings", "Squill/s1/3", None, (29,), "exchanged"),
    Seeded("1 kHz generator", "Tamarisk/s1/3", None, (21,), "generator"),
    Seeded("zero that falls", "Thrift/s2/1", 0.7, (26, 29), "the pressure zero"),
    Seeded("leak", "Dulse/s1/4", None, (25,), "leak before the nozzles"),
)  # fmt: skip


@pytest.fixture(scope="module")
def other(tmp_path_factory: pytest.TempPathFactory) -> Judged:
    base = tmp_path_factory.mktemp("other")
    write_other_lab(base / "files", SEED)
    return judge(base, base / "files")


def test_all_files_came_in(other: Judged) -> None:
    counted = {each.content for each in other.book.taken.values()}
    assert counted == {"raw nozzle readings", "flow and pressure"}
    assert other.graph.unplaced == ()
    assert len(other.graph.mountings()) == 33


@pytest.mark.parametrize("fault", SEEDED, ids=lambda each: each.name)
def test_each_fault_is_found_with_its_cause(other: Judged, fault: Seeded) -> None:
    own = other.about(fault)
    right = [each for each in own if each.rule in fault.rules and fault.words in each.cause]
    assert right, [f"rule {each.rule}: {each.found}: {each.cause}" for each in own]


def test_at_most_two_percent_of_the_clean_part_are_doubted(other: Judged) -> None:
    clean = other.clean(SEEDED)
    false = other.false(clean)
    print(f"second laboratory: {len(false)} false findings on {len(clean)} clean mountings and sweeps")
    assert len(false) <= 0.02 * len(clean), [f"rule {e.rule} {e.subject}: {e.found}" for e in false]


@pytest.mark.slow
def test_nothing_blocks_in_the_second_laboratory_without_faults(tmp_path: Path) -> None:
    write_other_lab(tmp_path / "files", SEED + 1, faults=False)
    sound = judge(tmp_path, tmp_path / "files")
    clean = sound.clean(())
    false = sound.false(clean)
    print(f"second laboratory without faults: {len(false)} on {len(clean)} mountings and sweeps")
    assert len(false) <= 0.02 * len(clean), [f"rule {e.rule} {e.subject}: {e.found}" for e in false]
