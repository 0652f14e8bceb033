"""Invented rigs whose files grow: what is written in the end is what the logger would have written at once."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from stillroom.demo.catalogue import fans, obstacles
from stillroom.demo.heat.live import LIVE_RUNS, Habit, Player, live_player
from stillroom.demo.heat.plan import RIG
from stillroom.demo.plan import Mounting
from stillroom.demo.write import SEED, samples

START = datetime(2026, 3, 13, 9)


def player_in(folder: Path) -> Player:
    known = obstacles(SEED, full=False)
    models = fans(SEED, known, full=False)
    bought = samples(models, tuple(Mounting(each.run.fan, "s1", 1) for each in LIVE_RUNS), SEED)
    return live_player(folder, SEED, models, bought, known[1], START, 0)


@pytest.mark.parametrize("step", [1.0, 7.0, 90.0, 1e9])
def test_grown_files_hold_what_was_logged(tmp_path: Path, step: float) -> None:
    player = player_in(tmp_path)
    elapsed = 0.0
    while not player.is_over:
        player.advance(elapsed)
        elapsed += step
    for each in player.files:
        found = each.path.read_bytes()
        before = each.path.with_name(f"{each.path.stem} 1{each.path.suffix}")
        head = "".join(line + each.end for line in each.head).encode(each.encoding)
        assert found.startswith(head)
        if each.habit is Habit.ROTATES:
            found = before.read_bytes() + found[len(head) :]
        else:
            assert not before.exists()
        whole = head + "".join(line + each.end for line in each.rows).encode(each.encoding)
        assert found == whole


def test_nothing_is_written_before_its_time(tmp_path: Path) -> None:
    player = player_in(tmp_path)
    player.advance(100.0)
    for each in player.files:
        rows = each.path.read_bytes().decode(each.encoding).split(each.end)[len(each.head) :]
        assert len(rows) - 1 == 26
        assert bool(rows[-1]) == (each.habit is Habit.HALVES)
    assert not player.is_over


def test_three_rigs_of_which_one_is_disturbed(tmp_path: Path) -> None:
    player = player_in(tmp_path)
    assert set(player.settings) == {each.rig for each in LIVE_RUNS} == {"heat-2", "heat-3", "heat-4"}
    assert RIG not in player.settings  # its bath would put right probes that aren't these
    assert {each.habit for each in LIVE_RUNS} == set(Habit)
    assert sum(each.run.wrong.stray is not None for each in LIVE_RUNS) == 1
    assert 3600 < player.length < 3 * 3600
    assert all(len(each) == 3 for each in player.settings.values())
