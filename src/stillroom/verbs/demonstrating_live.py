"""Invented heat rigs, played at a chosen speed, and watched as real ones are."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

from stillroom.demo.heat.live import LIVE_RUNS, Player, write_live_tables
from stillroom.demo.write import live_rigs
from stillroom.errors import BadInput
from stillroom.lab.intake.intake import bring_in
from stillroom.live.lines import is_change, line_of, rings, table_of
from stillroom.live.sources import RigFiles
from stillroom.live.states import RigState, State
from stillroom.live.stream import data_of
from stillroom.live.watching import watch
from stillroom.store.lab import Lab
from stillroom.verbs.added import Say
from stillroom.verbs.said import Said
from stillroom.verbs.watching import Panel

FOLDER = "live"
WITHIN = 60.0
"""The usual speed-up lets the longest run end in so many seconds [s]."""
LOOK = 1.0
"""Between two looks [s]."""
ACCEPT = 0.1
"""A forecast passes whose 95 % interval reaches no further than this [K]."""
TABLES = ("fans.csv", "samples.csv", "obstacles.csv", "heat.toml")
"""What the watched rigs need of the lab's tables."""


@dataclass
class Clock:
    """The rigs' time: it goes `speed_up` times as fast as ours.

    Parameters
    ----------
    start : when the runs begin. sleep, now : our own clock, seconds.
    """

    start: datetime
    speed_up: float
    sleep: Callable[[float], None] = time.sleep
    now: Callable[[], float] = time.monotonic
    begun: float = field(init=False)

    def __post_init__(self) -> None:
        """Let it begin now."""
        self.begun = self.now()

    @property
    def elapsed(self) -> float:
        """Since the runs began [s]."""
        return (self.now() - self.begun) * self.speed_up

    @property
    def moment(self) -> datetime:
        """What a clock at the rigs shows."""
        return self.start + timedelta(seconds=self.elapsed)


def demo_live(
    lab: Lab,
    bench: Path,
    seed: int,
    speed_up: float,
    say: Say,
    panel: Panel,
    *,
    clock: Callable[[datetime, float], Clock] = Clock,
) -> Said:
    """Play the rigs and say of each what the watcher sees, until all are ready to swap or somebody ends it.

    Parameters
    ----------
    bench : folder of the rigs' exports. speed_up : 0 for the usual one. clock : of the rigs.
    """
    if speed_up < 0.0:
        raise BadInput(
            "--speed-up", found=f"{speed_up:g}", expected="how many times as fast as real rigs, such as 60"
        )
    folder = bench / FOLDER
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    start = datetime.now().replace(microsecond=0)
    player = live_rigs(folder, seed, start)
    tables = write_live_tables(folder, player)
    bring_in(lab, [*(bench / each for each in TABLES), *tables], {}).refuse_bad()
    speed_up = speed_up or player.length / WITHIN
    names = ", ".join(each.rig for each in LIVE_RUNS)
    say(Said(f"Playing {names} at {speed_up:.0f} times their speed; Ctrl-C ends it.",
             lines=(f"Their logger files grow in {folder}.",)))  # fmt: skip
    last: dict[str, RigState] = {}
    with suppress(KeyboardInterrupt):
        last = _watched(lab, folder, player, clock(start, speed_up), say, panel)
    panel((), False)
    words = ", ".join(f"{each.rig} {each.state.value}" for each in last.values())
    return Said(
        f"Played {words or names}.",
        lines=(f"The same for real rigs: stillroom watch FOLDER --lab {lab.path}",),
        data={"watched": [data_of(each) for each in last.values()], "speed_up": speed_up},
    )


def _watched(
    lab: Lab, folder: Path, player: Player, clock: Clock, say: Say, panel: Panel
) -> dict[str, RigState]:
    """Look until every rig is ready, or until nothing more is to come; gives the last states."""
    player.advance(0.0)

    def sleep(seconds: float) -> None:
        clock.sleep(seconds)
        player.advance(clock.elapsed)

    sources = [RigFiles(each.rig, folder / each.rig) for each in LIVE_RUNS]
    last: dict[str, RigState] = {}
    looks = watch(lab, sources, every=LOOK, accept=ACCEPT, sleep=sleep, now=lambda: clock.moment)
    for states in looks:
        over = player.is_over
        _tell(states, last, clock, say, panel)
        last = {each.rig: each for each in states}
        if over or all(each.state is State.READY for each in states):
            break
    return last


def _tell(
    states: Sequence[RigState], before: dict[str, RigState], clock: Clock, say: Say, panel: Panel
) -> None:
    changed = [each for each in states if is_change(before.get(each.rig), each)]
    if changed:
        panel((), False)
    for each in changed:
        say(Said(f"{clock.moment:%H:%M:%S} {line_of(each)}", data=data_of(each)))
    panel(table_of(states), any(rings(before.get(each.rig), each) for each in states))
