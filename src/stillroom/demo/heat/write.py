"""Writes what the heat rig hands over: logger files, its rig, its tables; and gives the truth of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from pathlib import Path

from stillroom.demo.calendar import Calendar
from stillroom.demo.fan import Fan, Obstacle
from stillroom.demo.heat.faults import heat_faults
from stillroom.demo.heat.loggers import POWER, logged, save_logs
from stillroom.demo.heat.plan import NOMINAL_POWER, Form, HeatPlan, HeatRun
from stillroom.demo.heat.playing import Held, Played, Rig, play_bath, play_run
from stillroom.demo.heat.probes import build_meters, rig_lines
from stillroom.demo.heat.setting_up import SetList
from stillroom.demo.heat.spreadsheet import plain_rises
from stillroom.demo.heat.tables import BATH, LogLine, write_heat_mountings, write_heat_runs, write_steps
from stillroom.demo.heat.truth import (
    APART,
    TIED_WITHIN,
    HeatRunTruth,
    HeatTruth,
    StepTruth,
    delta_truths,
    near_pairs,
)
from stillroom.demo.truth import Fault

FOLDER = "exports/heat-rig"
_REMOUNTING = 14 * 60.0
"""From the end of one run to the beginning of the next [s]."""
_DAY_BEGINS = 8.25
"""When the first run of a day begins [h]."""


def build_rig(
    seed: int,
    models: Sequence[Fan],
    samples: Mapping[tuple[str, str], Fan],
    radiator: Obstacle,
    name: str,
    plan: HeatPlan,
) -> Rig:
    """The heat rig in its round; `name` is the radiator's in the tables."""
    sets = SetList(seed, {each.name: each for each in models}, samples, radiator, name)
    return Rig(seed, build_meters(seed), sets, plan)


def write_heat(
    folder: Path, rig: Rig, calendar: Calendar, calibrated: tuple[int, int]
) -> tuple[HeatTruth, tuple[Fault, ...]]:
    """Write the logger files and tables of the heat rig.

    Parameters
    ----------
    calibrated : days from the calibrations to the round, and from one calibration to the next.
    """
    plan, sets = rig.plan, rig.sets
    lines = [_bath(folder, rig, calendar)]
    truths: list[HeatRunTruth] = []
    free: dict[int, float] = {}
    done: list[tuple[HeatRun, Played]] = []
    for run in plan.runs:
        played = play_run(rig, run)
        begins = free.get(run.day, _DAY_BEGINS * 3600)
        free[run.day] = begins + float(played.times[-1]) + _REMOUNTING
        start = datetime.fromisoformat(calendar.day(run.day)) + timedelta(seconds=round(begins))
        found = _save(folder, run, played, start)
        lines += found
        truths.append(_truth(run, played, start, tuple(each.file for each in found)))
        done.append((run, played))
    write_heat_runs(folder, lines, calendar.before(20))
    write_heat_mountings(folder, plan.runs, calendar)
    write_steps(folder, [(run, [each.chosen for each in played.held]) for run, played in done])
    text = "\n".join(rig_lines(calendar, sets.radiator.name, *calibrated))
    (folder / "heat.toml").write_text(text, encoding="utf-8", newline="\n")
    deltas = tuple(delta_truths(sets, plan))
    truth = HeatTruth(
        nominal=NOMINAL_POWER,
        radiator=sets.name,
        deltas=deltas,
        runs=tuple(truths),
        tie=tuple(near_pairs(deltas, 0.0, TIED_WITHIN)),
        gap=tuple(near_pairs(deltas, *APART)),
        offsets=rig.meters.offsets,
        plain=plain_rises(done),
    )
    return truth, tuple(heat_faults(plan, truths))


def _bath(folder: Path, rig: Rig, calendar: Calendar) -> LogLine:
    bath = rig.plan.bath
    times, read = play_bath(rig, bath)
    day = calendar.day(bath.day)
    start = datetime.fromisoformat(day) + timedelta(hours=bath.hour - 0.5)
    two = logged(Form.BENCH_TWO)[:1]
    (found,) = save_logs(folder, f"{FOLDER}/{day} bath", two, start, times, read, {})
    return LogLine(found.file, found.logger, f"{day} bath", None, what=BATH)


def _save(folder: Path, run: HeatRun, played: Played, start: datetime) -> list[LogLine]:
    place = f"{FOLDER}/{start:%Y-%m-%d} {run.fan} {run.sample} h{run.number}"
    session = f"{start:%Y-%m-%d} {run.fan} {run.sample} h{run.number}"
    clocks = {POWER: run.wrong.clock - run.told_clock}
    files = save_logs(folder, place, logged(run.form), start, played.times, played.read, clocks)
    return [
        LogLine(each.file, each.logger, session, run, run.told_clock if each.logger == POWER else 0.0)
        for each in files
    ]


def _truth(run: HeatRun, played: Played, start: datetime, files: tuple[str, ...]) -> HeatRunTruth:
    steps = tuple(_step(number, each) for number, each in enumerate(played.held, start=1))
    return HeatRunTruth(run.name, run.fan, run.sample, run.day, files, start.isoformat(), steps)


def _step(number: int, held: Held) -> StepTruth:
    chosen = held.chosen
    return StepTruth(
        number, chosen.setting.words, chosen.noise, held.first, held.last, held.speed, held.flow, held.tau,
        (held.last - held.first) / held.tau, held.delta,
    )  # fmt: skip
