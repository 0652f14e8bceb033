"""Rigs that are watched: each run's logger files grow row by row, as fast as somebody lets the time go by.

One logger rotates its file, one writes a line in two halves, and on one rig a probe falls into the warm air for some
minutes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import Enum
from pathlib import Path

from stillroom.demo.fan import Control, Fan, Obstacle
from stillroom.demo.heat.loggers import Logged, logged
from stillroom.demo.heat.loop import PUMP, SET_FLOW
from stillroom.demo.heat.plan import FANS, NOMINAL_POWER, NONE, Bath, Form, HeatPlan, HeatRun, Trouble
from stillroom.demo.heat.playing import Played, Rig, play_run
from stillroom.demo.heat.probes import build_meters
from stillroom.demo.heat.setting_up import Chosen, SetList
from stillroom.demo.tables import write_table

_STRAY = (240.0, 660.0)
_LIMITS = (30.0, 35.0)


class Habit(Enum):
    """How a logger treats its file."""

    PLAIN = "appends whole lines"
    ROTATES = "renames its file midway and begins another"
    HALVES = "writes a line in two halves"


@dataclass(frozen=True)
class LiveRun:
    """A run that is watched: on which rig, and how its loggers treat their files."""

    rig: str
    run: HeatRun
    habit: Habit


ZEROED = 0.15
"""Share of their offsets that the probes of these rigs have kept: they were set to zero in one bath."""
LONG = 8.6
"""How long a setting is held that is watched, in time constants: until it is proven to be steady, and a little more."""


def _run(fan: str, form: Form, wrong: Trouble = NONE) -> HeatRun:
    return HeatRun(fan, "s1", 1, limits=_LIMITS, again=True, form=form, hold=LONG, wrong=wrong)


LIVE_RUNS = (
    LiveRun("heat-2", _run("Bracken", Form.BENCH_TWO), Habit.ROTATES),
    LiveRun("heat-3", _run("Sedge", Form.ONE), Habit.HALVES),
    LiveRun("heat-4", _run("Bilberry", Form.BENCH_TWO, Trouble(stray=_STRAY)), Habit.PLAIN),
)


@dataclass
class Growing:
    """One file that grows.

    Parameters
    ----------
    path : of the file. habit : how it is treated. encoding, end : of its text and lines. head : above the rows.
    rows : its lines. due : when each is written, since the run's beginning [s].
    """

    path: Path
    habit: Habit
    encoding: str
    end: str
    head: Sequence[str]
    rows: Sequence[str]
    due: Sequence[float]
    _done: int = 0
    _half: bool = False
    _rotated: bool = False

    def advance(self, elapsed: float) -> None:
        """Write what is due."""
        until = self._done
        while until < len(self.due) and self.due[until] <= elapsed:
            until += 1
        if self._done == 0 and not self._half:
            self._begin()
        if self.habit is Habit.ROTATES and not self._rotated and until > len(self.rows) // 2:
            self._append(self.rows[self._done : len(self.rows) // 2])
            self._done = len(self.rows) // 2
            self.path.rename(self.path.with_name(f"{self.path.stem} 1{self.path.suffix}"))
            self._rotated = True
            self._begin()
        self._append(self.rows[self._done : until])
        self._done = until

    @property
    def is_complete(self) -> bool:
        """Whether all is written."""
        return self._done == len(self.rows) and not self._half

    def _begin(self) -> None:
        self.path.parent.mkdir(parents=True, exist_ok=True)
        self.path.write_bytes("".join(line + self.end for line in self.head).encode(self.encoding))

    def _append(self, rows: Sequence[str]) -> None:
        """More rows; where lines come in halves, every other time half of the next one too, whose rest comes then."""
        text = "".join(row + self.end for row in rows)
        came_in_half = self._half
        if self._half and rows:
            text = text[len(rows[0]) // 2 :]
            self._half = False
        following = self._done + len(rows)
        if self.habit is Habit.HALVES and rows and not came_in_half and following < len(self.rows):
            text += self.rows[following][: len(self.rows[following]) // 2]
            self._half = True
        with self.path.open("ab") as out:
            out.write(text.encode(self.encoding))


@dataclass
class Player:
    """Plays invented rigs: `advance` lets time go by.

    Parameters
    ----------
    files : that grow. length : of the longest run [s]. settings : of each run, in order, by its rig.
    """

    files: list[Growing]
    length: float
    settings: dict[str, tuple[Chosen, ...]] = field(default_factory=dict)

    def advance(self, elapsed: float) -> None:
        """Write what the loggers wrote up to so many seconds after the beginning."""
        for each in self.files:
            each.advance(elapsed)

    @property
    def is_over(self) -> bool:
        """Whether all files are complete."""
        return all(each.is_complete for each in self.files)


def live_player(
    folder: Path,
    seed: int,
    models: Sequence[Fan],
    samples: Mapping[tuple[str, str], Fan],
    radiator: Obstacle,
    start: datetime,
    day: int,
) -> Player:
    """The rigs before their first row.

    Parameters
    ----------
    folder : below which each rig has its own. radiator : one tile. start : of all runs. day : working day.
    """
    runs = tuple(replace(each.run, day=day) for each in LIVE_RUNS)
    sets = SetList(seed, {each.name: each for each in models}, samples, radiator, radiator.name)
    meters = build_meters(seed)
    zeroed = {probe: ZEROED * offset for probe, offset in meters.offsets.items()}
    rig = Rig(seed, replace(meters, offsets=zeroed), sets, HeatPlan(runs, Bath(day)))
    player = Player([], 0.0)
    for live, run in zip(LIVE_RUNS, runs, strict=True):
        played = play_run(rig, run)
        for number, logger in enumerate(logged(run.form)):
            habit = live.habit if number == 0 else Habit.PLAIN
            player.files.append(_growing(folder / live.rig, live, logger, played, start, habit))
        player.length = max(player.length, float(played.times[-1]))
        player.settings[live.rig] = tuple(each.chosen for each in played.held)
    return player


def _growing(
    folder: Path, live: LiveRun, logger: Logged, played: Played, start: datetime, habit: Habit
) -> Growing:
    head, rows = logger.lines(start, played.times, played.read)
    path = folder / f"{start:%Y-%m-%d} {live.run.fan} {live.run.sample} {logger.ending}"
    due = [float(each) for each in played.times[:: logger.every]]
    return Growing(path, habit, logger.way.encoding, logger.way.end, head, rows, due)


def write_live_tables(folder: Path, player: Player) -> tuple[Path, ...]:
    """Write the rigs' description and the planned settings; gives their paths. Rigs of their own: the lab's heat-1 has
    other probes, which its bath puts right.
    """
    rigs, steps = folder / "live.toml", folder / "live-steps.csv"
    lines = (line for each in LIVE_RUNS for line in _rig(each.rig))
    rigs.write_text("\n".join(lines), encoding="utf-8", newline="\n")
    rows = [
        [live.rig, live.run.fan, live.run.sample, number,
         *(f"{each.setting.value:g}" if each.setting.control is way else "" for way in Control)]
        for live in LIVE_RUNS
        for number, each in enumerate(player.settings[live.rig], start=1)
    ]  # fmt: skip
    write_table(steps, ["rig", "fan", "sample", "step", "duty [%]", "volts [V]"], rows)
    return rigs, steps


def _rig(name: str) -> Iterator[str]:
    """A rig like that of the lab."""
    yield f"[rig.{name}]"
    yield 'kind = "heat"'
    yield f'nominal_power = "{NOMINAL_POWER:g} W"'
    yield f"fans = {FANS}"
    yield 'coolant = "water"'
    yield f'coolant_flow = "{SET_FLOW * 60e3:g} l/min"'
    yield f'pump_power = "{PUMP:g} W"'
    yield ""
