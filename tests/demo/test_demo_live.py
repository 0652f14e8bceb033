"""`demo --live`: three invented rigs are played and watched until each fan may come off, one after a disturbance."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pytest

from stillroom.errors import BadInput
from stillroom.verbs import demonstrating, demonstrating_live
from stillroom.verbs.said import Said


@dataclass
class Stopped:
    """Our own clock, which only goes while somebody sleeps."""

    time: float = 0.0

    def sleep(self, seconds: float) -> None:
        self.time += seconds

    def now(self) -> float:
        return self.time


@pytest.fixture
def played(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Said, list[str], list[tuple[str, ...]]]:
    own = Stopped()

    def clock(start: datetime, speed_up: float) -> demonstrating_live.Clock:
        return demonstrating_live.Clock(start, speed_up, own.sleep, own.now)

    lines: list[str] = []
    panels: list[tuple[str, ...]] = []
    whole = demonstrating_live.demo_live
    monkeypatch.setattr(
        demonstrating,
        "demo_live",
        lambda *told: whole(*told, clock=clock),  # type: ignore[arg-type]
    )
    said = demonstrating.demo(
        tmp_path / "lab", live=True, speed_up=120.0, say=lambda each: lines.append(each.title),
        panel=lambda rows, _: panels.append(tuple(rows)),
    )  # fmt: skip
    return said, lines, panels


def test_all_rigs_end_ready_and_one_is_to_be_checked_on_the_way(
    played: tuple[Said, list[str], list[tuple[str, ...]]],
) -> None:
    said, lines, panels = played
    assert said.title == "Played heat-2 ready to swap, heat-3 ready to swap, heat-4 ready to swap."
    assert said.code == 0
    checks = [each for each in lines if "check rig" in each]
    assert checks
    assert all("heat-4" in each for each in checks)
    assert any("air probe" in each for each in checks)
    for rig in ("heat-2", "heat-3", "heat-4"):
        own = [each for each in lines if f" {rig}: " in each]
        assert any("steady" in each for each in own)
        assert "ready to swap" in own[-1]
    assert any(len(each) > 4 for each in panels)
    assert panels[-1] == (), "the table is taken away at the end"


def test_a_speed_up_below_nothing_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="--speed-up"):
        demonstrating.demo(tmp_path / "lab", live=True, speed_up=-1.0)
