"""The second invented laboratory's recordings: its two faults are found, and nothing else is held against it."""

from __future__ import annotations

from pathlib import Path

import pytest
from judged import STATEMENTS, Judged, judge
from other_lab_sound import write_other_sound

SEED = 77

OF_SOUND = STATEMENTS | {5, 6, 7, 8, 9, 10, 14, 15, 16, 17, 18}
"""Rules whose marks say what a session lacks or how a fan is."""


def looked_through(base: Path, *, faults: bool) -> Judged:
    write_other_sound(base / "files", SEED, faults=faults)
    return judge(base, base / "files")


@pytest.mark.slow
def test_its_faults_are_found_once_with_their_causes(tmp_path: Path) -> None:
    lab = looked_through(tmp_path, faults=True)
    blocks = sorted(
        (each.rule, each.place.rpartition("/")[2], each.cause) for each in lab.findings if each.blocks
    )
    assert [each[:2] for each in blocks] == [
        (5, "Kal114 nachher.wav"),
        (20, "Campion Probe 1 70 Prozent.wav"),
    ]
    assert "+0.8 dB" in blocks[0][2]
    assert "reads half what it is; the fan gives 2, the tachometer was set to 4" in blocks[1][2]


@pytest.mark.slow
def test_nothing_is_held_against_it_where_nothing_is_wrong(tmp_path: Path) -> None:
    lab = looked_through(tmp_path, faults=False)
    against = [each for each in lab.findings if each.blocks or each.rule not in OF_SOUND]
    assert [(each.rule, each.found) for each in against] == []
